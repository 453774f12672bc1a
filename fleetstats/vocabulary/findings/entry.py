"""One kind of finding: its code, severity, sentences, cures and what may be done about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

SEVERITIES: Final = ("error", "warning", "note")
"""Errors stop the study unless [treat] names their code; warnings and notes are shown."""

ACTIONS: Final = ("stop", "set-aside", "accept")
"""What may be done with a row about which something was found."""

FAILURE_ASIDE: Final = (
    "A failure that is set aside leaves the figure; the claim then names it and carries a bound "
    "that counts it."
)
"""What setting a row aside does where it tells of a failure; every cure that advises it says so."""


class Said(NamedTuple):
    """A finding in words: what was found, and what to do about it."""

    sentence: str
    cure: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingEntry:
    """A kind of finding, as the catalogue has it.

    Parameters
    ----------
    code : str
        Its stable word.
    severity : str
        One of `SEVERITIES`.
    meaning : str
        What the code stands for, for tables in which no single finding is told.
    says, cure : mapping
        The sentence, and what to do, for each case in which the kind is found; the case ``""`` is
        the one without a name. Fields in braces are named by the call that makes the finding.
    usual : str
        The one of `ACTIONS` that is taken where ``[treat]`` is silent.
    may_accept : bool
        Whether ``[treat]`` may let such a row be used as it stands.
    of_file : bool
        Whether a whole file is concerned, which ``[treat]`` cannot mend.
    limit : str
        The limit that is passed, where there is one: what it is, why, and its source.
    """

    code: str
    severity: str
    meaning: str
    says: Mapping[str, str] = field(repr=False)
    cure: Mapping[str, str] = field(repr=False)
    usual: str
    may_accept: bool
    of_file: bool = False
    limit: str = ""


def _entry(
    severity: str,
    code: str,
    meaning: str,
    says: str | Mapping[str, str],
    cure: str | Mapping[str, str],
    usual: str,
    may_accept: bool,
    of_file: bool,
    limit: str,
) -> FindingEntry:
    cases = {"": says} if isinstance(says, str) else dict(says)
    cures = dict.fromkeys(cases, cure) if isinstance(cure, str) else dict(cure)
    if set(cases) != set(cures):
        raise ValueError(f"The cases of '{code}' differ between sentence and cure.")
    return FindingEntry(
        code=code,
        severity=severity,
        meaning=meaning,
        says=cases,
        cure=cures,
        usual=usual,
        may_accept=may_accept,
        of_file=of_file,
        limit=limit,
    )


def error(
    code: str,
    meaning: str,
    *,
    says: str | Mapping[str, str],
    cure: str | Mapping[str, str] = "",
    usual: str = "stop",
    may_accept: bool = False,
    of_file: bool = False,
    limit: str = "",
) -> FindingEntry:
    """Return a kind that stops the study unless ``[treat]`` says otherwise."""
    return _entry("error", code, meaning, says, cure, usual, may_accept, of_file, limit)


def warning(
    code: str,
    meaning: str,
    *,
    says: str | Mapping[str, str],
    cure: str | Mapping[str, str] = "",
    usual: str = "accept",
    may_accept: bool = True,
    limit: str = "",
) -> FindingEntry:
    """Return a kind that is shown, with the row used as it stands unless `usual` says not."""
    return _entry("warning", code, meaning, says, cure, usual, may_accept, False, limit)


def note(
    code: str,
    meaning: str,
    *,
    says: str | Mapping[str, str],
    cure: str | Mapping[str, str] = "",
    usual: str = "accept",
    may_accept: bool = True,
    limit: str = "",
) -> FindingEntry:
    """Return a kind that is worth knowing and changes nothing by itself."""
    return _entry("note", code, meaning, says, cure, usual, may_accept, False, limit)
