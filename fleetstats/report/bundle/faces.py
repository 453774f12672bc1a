"""Judge every face of a bundle's report against the one made again here.

With the same versions and kind of machine a face must be the same to the byte. With others its
text and figures must be: every word, sign and tag the same, every number within the tolerance.
Paper, workbook and pictures hold their text packed and drawn; where they are not the same to the
byte with other versions, nothing is said of them, and that is said.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.report.bundle.strict import read_strict
from fleetstats.report.place import MANIFEST

REPORT = "report/"
RESULTS = "results.json"
IN_WORDS = (".html", ".svg", ".json", ".csv")
"""Faces whose text can be read as it stands."""
_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+(?:[eE][-+]?\d+)?|[eE][-+]?\d+)(?![\w.])")
"""Numbers with a fraction; whole ones are counts, dates or digests, in which no digit may move."""


@value
class FacesJudged(Value):
    """What became of the report's files; names are within the report.

    `differing` are not the same to the byte; of these, `altered` differ in words or figures or, in
    a like environment, at all; `unjudged` could not be judged here.
    """

    differing: tuple[str, ...]
    altered: tuple[str, ...]
    unjudged: tuple[str, ...]


def judge_faces(
    members: Mapping[str, bytes],
    fresh: Mapping[str, bytes],
    *,
    alike: bool,
    same_program: bool,
    tolerance: float,
) -> FacesJudged:
    """Judge the faces that a bundle holds.

    Parameters
    ----------
    members : mapping
        All members of the bundle.
    fresh : mapping
        The report's files as made here, with the versions that the bundle tells printed in them.
    alike : bool
        Whether the versions and the machine are those of the bundle.
    same_program : bool
        Whether this package's version is; another version may word and lay out otherwise.
    tolerance : float
        Relative difference up to which numbers agree.
    """
    differing, altered, unjudged = [], [], []
    for name, now in sorted(fresh.items()):
        before = members.get(REPORT + name)
        if before is None or before == now:
            continue
        differing.append(name)
        if alike:
            altered.append(name)
        elif name == MANIFEST:
            if not manifest_holds(members):
                altered.append(name)
        elif not same_program or not name.endswith(IN_WORDS):
            if name != RESULTS:  # judged figure by figure
                unjudged.append(name)
        elif name != RESULTS and not same_text(before, now, tolerance=tolerance):
            altered.append(name)
    return FacesJudged(differing=tuple(differing), altered=tuple(altered), unjudged=tuple(unjudged))


def manifest_holds(members: Mapping[str, bytes]) -> bool:
    """Return whether the report's manifest lists exactly its other files, as they are."""
    try:
        strict = read_strict(members[REPORT + MANIFEST])
        report_id = read_strict(members[REPORT + "report.json"]).content.get("report_id")
    except (KeyError, ValueError, AttributeError):
        return False
    content: Any = strict.content
    files = {
        k.removeprefix(REPORT): hashlib.sha256(v).hexdigest()
        for k, v in members.items()
        if k.startswith(REPORT) and k != REPORT + MANIFEST
    }
    return not strict.doubled and content == {
        "schema": "fleetstats/manifest/1", "report_id": report_id, "files": files
    }  # fmt: skip


def same_text(before: bytes, now: bytes, *, tolerance: float) -> bool:
    """Return whether two texts are the same but for numbers that differ within the tolerance."""
    try:
        old, new = before.decode("utf-8"), now.decode("utf-8")
    except UnicodeDecodeError:
        return False
    if _NUMBER.split(old) != _NUMBER.split(new):
        return False
    pairs = zip(_NUMBER.findall(old), _NUMBER.findall(new), strict=True)
    return all(a == b or _near(float(a), float(b), tolerance) for a, b in pairs)


def _near(a: float, b: float, tolerance: float) -> bool:
    return abs(a - b) <= tolerance * max(abs(a), abs(b))
