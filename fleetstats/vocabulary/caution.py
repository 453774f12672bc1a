"""A caution is data: a code, what was measured, the limit it passed, and the sentence."""

from __future__ import annotations

from collections.abc import Iterable

from fleetstats.core.value import Value, value

STANDING_NOTICE = (
    "This is a statistical summary of the records supplied. It is not airworthiness approval, "
    "maintenance data or permission to exceed any limit.",
    "Airworthiness limitations, directives, type-certificate conditions and the approved "
    "maintenance programme come first; then the maker's instructions; then a licensed engineer's "
    "judgement of the individual engine. Where they are stricter, they hold.",
    "A fleet figure says nothing certain of one engine. A good trend is not proof of health; a "
    "bad sign outranks every statistic here.",
    "Absence of reported failures is not evidence of absence of failures.",
)
"""Shown on the first page of every report and with all advice."""


@value
class Caution(Value):
    """Something that limits what a result may be used for.

    `code` is a stable word such as ``few-failures``; `where` names the result it arose in;
    `value` and `limit` are the figures compared, as text with units. `proviso` is the clause that a
    supported claim carries because of it; blank where it carries none.
    """

    code: str
    text: str
    where: str = ""
    value: str = ""
    limit: str = ""
    proviso: str = ""


def with_notice(text: str, cautions: Iterable[Caution] = ()) -> str:
    """Return a text with what limits its use and the notice that goes with all advice."""
    limits = [f"Caution ({c.code}): {c.text}" for c in cautions]
    return "\n".join([text, *limits, *STANDING_NOTICE])
