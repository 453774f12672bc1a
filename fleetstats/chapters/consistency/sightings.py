"""Which quantity stands where: the forms in which sentences and tables show it.

A form that no text has any more finds nothing; the tests hold, demo by demo, which quantities are
found in how many places at least.
"""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass

from fleetstats.advice.results import Results

_N = r"(?P<v>[\d,]+|no)"
_H = r"(?P<v>[\d,]+) h"
_P = r"(?P<v>[\d.]+ %)"
_COUNTED = r"(?: that could be counted, and [\d,]+ that could not,)?"
_IN = r"(?P<v>[\d,]+ in [\d,]+)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """How a text shows a quantity: the number is the group `v`.

    `rest` says that it shows what the share leaves of 100 %, `step` that it is rounded to more
    than its last digit, `table`, `row` and `column` which cells alone are meant. A text without
    `needs` cannot have the form, which is quicker to see.
    """

    key: str
    form: re.Pattern[str]
    rest: bool = False
    step: float = 0.0
    table: str = ""
    row: str = ""
    column: str = ""
    needs: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenCell:
    """A cell of a table that holds a quantity as a number; `row` names the row's first cell."""

    key: str
    table: str
    row: str
    column: str
    share: bool = False


def _forms(key: str, *forms: str, **told: object) -> list[Form]:
    return [
        Form(key=key, form=_compiled(f), needs=_plain_part(f), **told)  # type: ignore[arg-type]
        for f in forms
    ]


@functools.cache
def _compiled(form: str) -> re.Pattern[str]:
    return re.compile(form)


@functools.cache
def _plain_part(form: str) -> str:
    """Return the longest run of letters and blanks that a form asks for outside of choices."""
    inside, out = 0, [""]
    signs = re.findall(r"\\.|\[[^\]]*\]|.", form)
    for sign, after in zip(signs, [*signs[1:], ""], strict=True):
        inside += (sign == "(") - (sign == ")")
        if not inside and re.fullmatch(r"[a-z ]", sign) and after not in ("?", "*"):
            out[-1] += sign
        else:
            out.append("")
    return max(out, key=len)


def list_forms(results: Results) -> list[Form]:
    """Return every form in which texts of this report show a quantity."""
    out = [*_counts(), *_ages(), *_chapters()]
    verdict = results.advice.verdict
    if verdict is not None:
        out += _claim(re.escape(f"{verdict.claimed_h:,.0f} h"))
    return out


def _counts() -> list[Form]:
    read = r"(?:^|\. )[\d,]+ rows? (?:read =|were read;) "
    return [
        *_forms(
            "engines used",
            rf"among {_N} engines? in [\d,]+ engine hours",
            rf"(?<![\d,]){_N} engines? were seen over",
            rf"engine hours \([^)]*\) of {_N} engines?",
            rf", {_N} engines$",
            rf"^{_N} engines?(?: of [\d,]+ built|; the study does not say)",
            rf"built = {_N} used",
            rf"^{_N} used; the study",
            rf"lives of {_N} engines enter the analysis",
        ),
        *_forms("engines built", rf"of {_N} built", rf"{_N} engines were built", rf"{_N} built = "),
        *_forms("engines of unknown fate", rf"built, and {_N} of them stand",
                rf"built = [\d,]+ used \+ {_N} of unknown fate"),
        *_forms("lives", rf"failures? in {_N} lives and", rf"{_N} lives of [\d,]+ engines enter"),
        *_forms(
            "failures",
            rf"stand {_N} failures?{_COUNTED} among",
            rf"^{_N} failures?{_COUNTED} in (?:[\d,]+ lives and )?[\d,]+ engine hours",
            rf"In all {_N} failures?{_COUNTED} in [\d,]+ engine hours",
            rf"and beyond, with {_N} ",
            rf"^{_N} failures? in question(?:, | that could)",
        ),
        *_forms(
            "engine hours",
            rf"failures?{_COUNTED} among [\d,]+ engines? in (?P<v>[\d,]+) engine hours",
            rf"failures?{_COUNTED} in (?:[\d,]+ lives and )?(?P<v>[\d,]+) engine hours",
            r"^(?P<v>[\d,]+) engine hours were watched",
            rf"engines? were seen over {_H},",
        ),
        *_forms("rows read", rf"^{_N} rows? were read;", rf"(?:^|\. ){_N} rows? read ="),
        *_forms("rows used", rf"{read}{_N} (?:are )?used"),
        *_forms("rows set aside", rf"{read}(?:[\d,]+|no) (?:are )?used (?:\+|and) {_N} set aside"),
    ]  # fmt: skip


def _ages() -> list[Form]:
    edge = {"table": "answers", "row": "Overhaul band: plan from, expect at, not beyond"}
    age = {"table": "answers", "step": 50.0}
    return [
        *_forms(
            "end of the evidence",
            rf"[Ee]vidence ends(?: at)? {_H}",
            rf"(?:older than|[Pp]ast|[Bb]eyond|by) {_H}(?:ours)?(?: already)?, where the evidence",
            rf"; past {_H} too few engines were watched",
            rf"^to {_H}, the last age with",
        ),
        *_forms("end of the evidence", rf"^{_H}", table="answers", row="Evidence ends",
                column="estimate"),
        *_forms("oldest age seen", rf"oldest was seen to {_H}", rf"^oldest {_H}"),
        *_forms("oldest age seen", rf"^{_H}", table="answers", row="Evidence ends", column="high"),
        *_forms(
            "hours from which overhaul is planned",
            rf"planning is advisable from {_H}",
            rf"considered for review from {_H}",
            rf"targets? \([^)]*\) up to {_H}; past",
            rf"the study's target up to {_H}, and nothing firm",
            rf"further confirmed failures?(?: of this kind)? below {_H}",
            rf"have reached {_H}, (?:where planning|as far as)",
        ),
        *_forms("hours from which overhaul is planned", rf"^{_H}", column="low", **edge),
        *_forms("hours at which overhaul is expected",
                rf"overhaul is to be expected at {_H}", rf"is to be expected at about {_H}"),
        *_forms("hours at which overhaul is expected", rf"^{_H}", column="estimate", **edge),
        *_forms("hours past which records speak for no engine",
                rf"past {_H},? (?:these records|they) speak for no engine"),
        *_forms("hours past which records speak for no engine", rf"^{_H}", column="high", **edge),
        *_forms("life of the target share, lower edge", rf"^{_H}", column="low",
                row="Age that", **age),
        *_forms("life of the target share, lower edge",
                rf"without the failure; the records support {_H}",
                rf"as they stand show the target reliability to {_H}", step=50.0),
        *_forms("life of the target share, lower edge",
                rf"^Beside {_H} from the records as they stand"),
        *_forms("life of the target share", rf"^{_H}", column="estimate", row="Age that", **age),
        *_forms("life of the target share", rf"engines are estimated to reach {_H}", step=50.0),
        *_forms("life of the target share, upper edge", rf"^{_H}", column="high",
                row="Age that", **age),
        *_forms("life of the target share, upper edge",
                rf"and not more than {_H} on the optimistic side", step=50.0),
        *_forms("cheapest age", rf"^{_H}", column="estimate", row="Cheapest age", **age),
        *_forms("cheapest age", rf"planned overhaul is cheapest near {_H}",
                rf"cheapest, about {_H}", step=50.0),
        *_forms("Weibull shape", r"^(?P<v>[\d.]+)", table="answers", row="Is there wear-out?",
                column="estimate"),
        *_forms("Weibull shape", r"Weibull shape is estimated at (?P<v>[\d.]+) \("),
        *_forms("Weibull shape, lower edge", r"^(?P<v>[\d.]+)", table="answers",
                row="Is there wear-out?", column="low"),
        *_forms("Weibull shape, lower edge",
                r"Weibull shape is estimated at [\d.]+ \((?P<v>[\d.]+) to"),
        *_forms("Weibull shape, upper edge", r"^(?P<v>[\d.]+)", table="answers",
                row="Is there wear-out?", column="high"),
        *_forms("Weibull shape, upper edge",
                r"Weibull shape is estimated at [\d.]+ \([\d.]+ to (?P<v>[\d.]+) at"),
    ]  # fmt: skip


def _claim(hours: str) -> list[Form]:
    """Return forms of what is said of the claimed hours, written as in sentences."""
    found = rf"(?:^reliability at {hours}: best|^Best) estimate [\d.]+ %; "
    return [
        *_forms("claimed hours", rf"interval claimed today, {_H}", rf"^claimed {_H}",
                rf"^{_H} between overhauls"),
        *_forms(
            "chance of failure by the claim, upper bound",
            rf"the records leave room for up to {_P}",
            rf"fail by {hours}: the upper bound is {_P}",
            rf"leave room for as many as {_IN} engines failing",
            rf"no more than {_IN} engines fail in this way",
            rf"\(one-sided upper bound\) at most {_P} of engines",
        ),
        *_forms("chance of failure by the claim, upper bound",
                rf"{found}at least {_P} \(one-sided", rest=True),
        *_forms(
            "chance of failure by the claim, lower bound",
            rf"fail by {hours}: at least {_P} do",
            rf"at least {_IN} engines fail in this way",
            rf"At least {_P} do \(one-sided lower bound\)",
            rf"\(one-sided\) at least {_P} meet this failure",
        ),
        *_forms("chance of failure by the claim, lower bound",
                rf"{found}(?:at least [^;]*|no lower [^;]*); at most {_P} \(one-sided", rest=True),
        *_forms("chance of failure by the claim", rf"\(estimated {_P}\)[.;] "),
        *_forms("chance of failure by the claim, upper bound with failures left out",
                rf"(?:its|their) least favourable ages? at most {_P}"),
        *_forms("failures left out", rf"(?:^|[;:.] ){_N} further failures? .* not in this figure",
                rf"(?:, and |, ){_N} (?:more )?that could not,"),
        *_forms("chance of failure by the claim",
                rf"(?:^reliability at {hours}: best|^Best) estimate {_P};", rest=True),
        *_forms("accepted chance of failure", rf"that at most {_P} fail by {hours}",
                rf"the study accepts {_IN}", rf"^at most {_P} with the failure by then",
                rf"(?:does not show|so|leave) the accepted {_P}"),
        *_forms("engines that reached the claim", rf"{_N} engines? reached {hours} and ran"),
        *_forms("lives that reached the claim", rf"{_N} lives? reached {hours} and ran"),
        *_forms("hours past the claim", rf"reached {hours} and ran {_H} past it"),
    ]  # fmt: skip


def _chapters() -> list[Form]:
    per = r"failures per 1,000 engine hours"
    return [
        *_forms("expected failures", r"about (?P<v>[\d.,]+) failures? expected, "),
        *_forms("failures ahead, at least",
                r"failures? expected, (?P<v>[\d,]+) to [\d,]+ with a chance"),
        *_forms("failures ahead, at most",
                r"failures? expected, [\d,]+ to (?P<v>[\d,]+) with a chance"),
        *_forms("chance of no failure ahead", rf"The chance of none is {_P}"),
        *_forms("expected reserve per hour",
                r"^Reserve: (?P<v>[\d.,]+) .*per engine hour are expected"),
        *_forms("share of faults that checks miss",
                rf"^With checks each [\d.,]+ h, about {_P} of the faults"),
        *_forms("failures before detection per 1,000 h", rf"^That is (?P<v>[\d.]+) {per}"),
    ]  # fmt: skip


CELLS = (
    SeenCell(key="expected failures", table="forecast-counts", row="failures", column="expected"),
    SeenCell(key="failures ahead, at least", table="forecast-counts", row="failures", column="low"),
    SeenCell(key="failures ahead, at most", table="forecast-counts", row="failures", column="high"),
    SeenCell(key="chance of no failure ahead", table="forecast-counts", row="failures",
         column="none", share=True),
    SeenCell(key="expected reserve per hour", table="forecast-reserve",
         row="expected over the forecast", column="per_h"),
    SeenCell(key="rows read", table="funnel", row="all sources", column="rows_read"),
    SeenCell(key="rows used", table="funnel", row="all sources", column="rows_used"),
    SeenCell(key="rows set aside", table="funnel", row="all sources", column="rows_set_aside"),
    SeenCell(key="lives", table="clock-range", row="as stated", column="lives"),
    SeenCell(key="failures", table="clock-range", row="as stated", column="failed"),
    SeenCell(key="engine hours", table="clock-range", row="as stated", column="exposure_h"),
    SeenCell(key="end of the evidence", table="clock-range", row="as stated", column="supported_h"),
    SeenCell(key="failures", table="influence", row="nothing", column="failures"),
    SeenCell(key="hours from which overhaul is planned", table="influence", row="nothing",
         column="plan_from"),
)  # fmt: skip
"""Cells that hold a quantity as a number."""
