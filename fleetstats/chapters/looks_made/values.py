"""The values of the chapter on earlier looks."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.caution import Caution


@value
class ToldLook(Value):
    """One earlier look, as the ledger tells it.

    Parameters
    ----------
    number : int
        Its number in the ledger.
    verb, date, verdict, report : str
        What was run, the date of its records, the verdict's word, the number of its report.
    hours, reliability : float or None
        What was asked: claimed hours, share that should reach them.
    failed, exposure_h : float or None
        Failures in question and engine hours of its records.
    failure_high : float or None
        Upper bound of the failure chance by the hours asked.
    plan_from_h : float or None
        Start of the overhaul band.
    changed : str
        What was changed since the look before it, in words.
    """

    number: int
    verb: str
    date: str
    verdict: str
    report: str
    hours: float | None
    reliability: float | None
    failed: float | None
    exposure_h: float | None
    failure_high: float | None
    plan_from_h: float | None
    changed: str


@value
class LooksMade(Value):
    """Looks that were made at this fleet before this one.

    Parameters
    ----------
    earlier : tuple of ToldLook
        Those that the ledger held when this question was first asked of these records, so that
        the same study gives the same list again.
    n_earlier : int
        How many they are; runs that saw the same thing count once.
    since : str
        What was changed between the last of them and this look, in words.
    flaws, odd : tuple of str
        What is wrong with the ledger; what another program did to its file only.
    sentences : tuple of str
        The same in words.
    prompt_lines : tuple of str
        What a prompt says of it.
    identity : str
        What the report's number takes in of it; blank where there is nothing to tell.
    """

    earlier: tuple[ToldLook, ...]
    n_earlier: int
    since: str = ""
    flaws: tuple[str, ...] = ()
    odd: tuple[str, ...] = ()
    sentences: tuple[str, ...] = ()
    prompt_lines: tuple[str, ...] = ()
    identity: str = ""
    cautions: tuple[Caution, ...] = ()

    _not_in_dict = ("identity",)
