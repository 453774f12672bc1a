"""Judge every face of a bundle's report against the one made again here.

With the same versions and kind of machine a face must be the same to the byte. With others its
text and figures must be (`likeness.py`): every word, sign and tag the same, every number within
the tolerance. Of paper and workbooks that another library drew, only the words can be read, and
that is said.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.report.bundle.likeness import SAME, UNLIKE, UNREAD, likeness
from fleetstats.report.bundle.strict import read_strict
from fleetstats.report.place import MANIFEST

REPORT = "report/"
RESULTS = "results.json"
OTHER_PROGRAM = "another state of this program made it, which may word and draw otherwise"


@value
class FacesJudged(Value):
    """What became of the report's files; names are within the report.

    `differing` are not the same to the byte; of these, `altered` differ in words or figures or, in
    a like environment, at all; `unjudged` could not be judged whole here, and `why` says so of
    each.
    """

    differing: tuple[str, ...]
    altered: tuple[str, ...]
    unjudged: tuple[str, ...]
    why: tuple[str, ...]


def judge_faces(
    members: Mapping[str, bytes],
    fresh: Mapping[str, bytes],
    *,
    alike: bool,
    same_program: bool,
    tolerance: float,
    same_typesetter: bool = False,
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
        Whether this package's files are; others may word and lay out otherwise.
    tolerance : float
        Relative difference up to which numbers agree.
    same_typesetter : bool
        Whether the library that sets paper is the bundle's: it then writes it in one way.
    """
    differing: list[str] = []
    altered: list[str] = []
    unjudged: dict[str, str] = {}
    digests = _digests(members, fresh)
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
        elif name == RESULTS:
            continue  # judged figure by figure
        elif not same_program:
            unjudged[name] = OTHER_PROGRAM
        else:
            found = likeness(name, before, now, tolerance=tolerance, digests=digests)
            if found == UNLIKE or (found == UNREAD and same_typesetter):
                altered.append(name)
            elif found != SAME:
                unjudged[name] = found
    return FacesJudged(
        differing=tuple(differing),
        altered=tuple(altered),
        unjudged=tuple(unjudged),
        why=tuple(unjudged.values()),
    )


def _digests(members: Mapping[str, bytes], fresh: Mapping[str, bytes]) -> tuple[str, str] | None:
    """Return the digest of the figures made here, and that of the bundle's own.

    The brief prints it. Figures that differ within the tolerance have another digest, and are
    judged one by one; the digest printed must be that of the figures that lie beside it.
    """
    there, here = members.get(REPORT + RESULTS), fresh.get(RESULTS)
    return None if there is None or here is None else (_sha256(here), _sha256(there))


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


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
