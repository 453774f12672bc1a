"""One look at a fleet's records: what was asked of which records, and what was answered."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import field, fields
from typing import Any

from fleetstats import __version__
from fleetstats.core.provenance import SourceFile, digest_file
from fleetstats.core.value import Value, plain, value
from fleetstats.study.leaves import leaves_of
from fleetstats.study.study import MENDS_FILE, Study

NO_ANSWER = (
    "study.title", "study.asked_by", "study.decided_by", "study.reader", "cost.currency", "stress.",
)  # fmt: skip
"""Settings that change no answer on the records: another title is not another look."""

APART = ("study.analysis_date", "study.claimed_interval_h", "targets.accepted_failure_at_claim")
"""Settings that a look holds by themselves, as its date and as what was asked."""

COUNTED = ("looks.made", "looks.information")
"""Settings that the ledger itself tells, unless the study file states them: a look that is made
again after others is still the same look."""

DIGITS = 6
"""Significant digits of an answer in the ledger: machines that differ in the last ones agree."""

CONTENT = ("verb", "date", "data", "study_file", "chosen", "asked", "answers", "verdict", "version",
           "report")  # fmt: skip
"""What a line says of its look; beside it stand its number, the line before, the day, flaws."""


@value
class LedgerLook(Value):
    """One run that answered on the records.

    Parameters
    ----------
    verb : str
        What was run: ``study``, ``claim``, ``watch``.
    date : str
        Date to which the records are complete, as ``2026-03-31``; blank where not said.
    data : str
        SHA-256 over the contents of every file of the study, by `digest_data`.
    study_file : str
        SHA-256 of the bytes of the study file; blank where there was none.
    chosen : dict
        Every setting that was set or departs and that can change an answer, by `chosen_of`.
    asked : dict
        What was asked beside: the claimed hours and the share that should reach them.
    answers : dict
        What came out, numbers by `rounded`.
    verdict : str
        The verdict's word, blank without a claim.
    version : str
        Version of fleetstats.
    report : str
        Number of the report, where one was written.
    written : str
        Day on which the line was written, by the clock of the machine. No result depends on it.
    number : int
        Number of the line, from 1; 0 before it is written.
    flaws : tuple of str
        What was wrong with the ledger when the line was added.
    """

    verb: str
    date: str
    data: str
    study_file: str = ""
    chosen: dict[str, Any] = field(default_factory=dict)
    asked: dict[str, Any] = field(default_factory=dict)
    answers: dict[str, Any] = field(default_factory=dict)
    verdict: str = ""
    version: str = ""
    report: str = ""
    written: str = ""
    number: int = 0
    flaws: tuple[str, ...] = ()

    def is_again(self, other: LedgerLook) -> bool:
        """Return whether both are one look: the same run on the same records, the same answers.

        The study file's comments, the day, the version and the number of the report do not count.
        """
        names = ("verb", "date", "data", "chosen", "asked", "answers", "verdict")
        return all(canonical(getattr(self, n)) == canonical(getattr(other, n)) for n in names)

    @property
    def question(self) -> str:
        """Return what the looks are counted by: two runs that share it have seen one thing."""
        return canonical([self.data, self.date, self.chosen, self.asked])

    @property
    def content(self) -> dict[str, Any]:
        """Return what the look says, without the clock and its place in the ledger."""
        return {name: plain(getattr(self, name)) for name in CONTENT}


def canonical(told: Any) -> str:
    """Return a text that is the same for equal contents, whatever the order of their keys."""
    return json.dumps(plain(told), sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def rounded(number: float | None) -> float | None:
    """Return an answer with the digits that the ledger keeps; None where it is no finite number."""
    if number is None or not math.isfinite(number):
        return None
    return float(f"{number:.{DIGITS}g}")


def chosen_of(study: Study) -> dict[str, Any]:
    """Return every setting of a study that was set or departs and that can change an answer."""
    return {
        x.key: plain(x.value)
        for x in leaves_of(study)
        if (x.stated or (x.departs and x.key not in COUNTED))
        and not x.key.startswith((*NO_ANSWER, *APART))
    }


def digest_data(study: Study, sources: Sequence[SourceFile] = ()) -> str:
    """Return the SHA-256 over the contents of a study's files, whatever their names and order.

    Parameters
    ----------
    study : Study
        The study; files that are no longer there do not count.
    sources : sequence of SourceFile
        Files that were read and digested already, by name.
    """
    known = {f.name: f.sha256 for f in sources}
    paths = {f.file: f.path for f in study.files}
    serials = study.settings.fleet.serials_file
    if serials:
        paths[serials] = study.folder / serials
    paths[MENDS_FILE] = study.folder / MENDS_FILE
    for name, path in paths.items():
        if name not in known and path.is_file():
            known[name] = digest_file(path)
    return hashlib.sha256("\n".join(sorted(known.values())).encode()).hexdigest()


def start_look(
    study: Study, verb: str, date: str, *, sources: Sequence[SourceFile] = (), **told: Any
) -> LedgerLook:
    """Return a look that names its study, files and settings; `told` fills its other fields."""
    return LedgerLook(
        verb=verb,
        date=date,
        data=digest_data(study, sources),
        study_file="" if study.source is None else study.source.sha256,
        chosen=chosen_of(study),
        version=__version__,
        **told,
    )


def look_of(told: dict[str, Any]) -> LedgerLook:
    """Return the look that a line tells; raises ValueError where it tells none.

    Parameters
    ----------
    told : dict
        The line as read from JSON; keys that are not known here do not count.
    """
    kinds: dict[str, type] = {"chosen": dict, "asked": dict, "answers": dict, "flaws": list,
                              "number": int}  # fmt: skip
    values: dict[str, Any] = {}
    wrong: list[str] = []
    for f in fields(LedgerLook):
        if f.name not in told:
            continue
        held = told[f.name]
        if not isinstance(held, kinds.get(f.name, str)) or isinstance(held, bool):
            wrong.append(f.name)
        values[f.name] = held
    wrong += [n for n in ("number", "verb", "date", "data") if n not in values]
    if (
        wrong
        or values["number"] < 1
        or not all(isinstance(x, str) for x in values.get("flaws", ()))
    ):
        raise ValueError(f"no look: {wrong}")
    return LedgerLook(**values | {"flaws": tuple(values.get("flaws", ()))})
