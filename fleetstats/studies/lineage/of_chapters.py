"""Figures of the parts beside the decision: each build and source, weakest points, what comes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fleetstats.chapters.ahead import Forecast
from fleetstats.chapters.claim import Claim
from fleetstats.chapters.decision import StopChance, add_months
from fleetstats.chapters.weakest import Weakest, WeakPoint, figure_words, limit_words
from fleetstats.core.units import text_number
from fleetstats.studies.lineage.tracing import Taken, Tracing, only, only_of
from fleetstats.vocabulary.wording import at_most, chance, count

GROUPS = ("build", "source")


def trace_groups(t: Tracing) -> None:
    """Add the claim for each build standard and each source, as it stands beside the answer."""
    claim = t.results.chapters.get("claim")
    if not isinstance(claim, Claim):
        return
    accepted = 1.0 - claim.target
    for subset in claim.subsets:
        if subset.group not in GROUPS:
            continue
        group, name = subset.group, subset.name
        labels = getattr(t.results.spells, group)
        keep = labels == ("" if name == "not stated" and name not in labels else name)
        t.part(
            f"{group} {name}: chance of failure by the claim, upper bound", "claim",
            _of_subset(group, name), keep=keep,
            printed=(at_most(subset.failure_high, accepted),), unit="share",
            of=f"lives of {group} {name}",
            rule="The bound of the verdict from the lives of this group alone.",
        )  # fmt: skip


def _of_subset(group: str, name: str) -> Callable[[Claim], Taken]:
    def take(c: Claim) -> Taken:
        found = [s for s in c.subsets if (s.group, s.name) == (group, name)]
        return only(found[0].failure_high if found else None)

    return take


def trace_weakest(t: Tracing) -> None:
    """Add the numbers of the weakest points, each with the limit that it is held against."""
    told = t.results.chapters.get("weakest")
    if not isinstance(told, Weakest):
        return
    for i, p in enumerate(told.points):
        name = f"weak point {i + 1}, {p.name}"
        units = {"chance": "share", "hours": "h"}
        for tail, take, write in (
            ("", lambda x: x.figure, figure_words), (": its limit", lambda x: x.limit, limit_words)
        ):  # fmt: skip
            t.part(
                name + tail, "weakest", _of_point(i, take),
                printed=(write(p),), unit=units.get(p.unit, "count"),
                rule=f"{p.sentence} Which points are weakest: chapters/weakest.",
            )  # fmt: skip


def _of_point(i: int, take: Callable[[WeakPoint], float]) -> Callable[[Weakest], Taken]:
    return lambda w: only(take(w.points[i]) if i < len(w.points) else None)


def trace_ahead(t: Tracing) -> None:
    """Add the failures to come, and the rule that ends the advice."""
    forecast = t.results.chapters.get("forecast")
    if isinstance(forecast, Forecast):
        _forecast(t, forecast)
    s = t.results.settings.decision
    t.setting(
        "failures that end the advice", s.stop_failures,
        lambda ask: ask.settings.decision.stop_failures,
        printed=(count(s.stop_failures, "further confirmed failure"),), unit="count",
        figures=("hours-from-which-overhaul-is-planned",),
        rule="As the study states it, or the default; below the hours from which overhaul is "
        "planned.",
    )  # fmt: skip
    stop = t.results.chapters.get("stop-chance")
    if isinstance(stop, StopChance):
        t.part(
            "chance that the stop rule is reached by itself", "stop-chance",
            lambda x: only(x.chance), printed=(chance(stop.chance),), unit="share",
            rule="Chance, by the forecast, of as many such failures until the review though "
            "nothing has changed.",
        )  # fmt: skip
        t.part(
            "failures expected under the stop rule", "stop-chance", lambda x: only(x.expected),
            printed=(text_number(stop.expected, digits=2),), unit="count",
            rule="Such failures expected until the review, by the forecast.",
        )  # fmt: skip
    t.setting(
        "review date", _review(t.results), _review, printed=(str(_review(t.results)),),
        unit="date", rule="Analysis date plus the months to the review.",
    )  # fmt: skip


def _review(x: Any) -> str | None:
    s = x.settings
    day = s.study.analysis_date
    return None if day is None else str(add_months(day, s.decision.review_months))


def _forecast(t: Tracing, forecast: Forecast) -> None:
    f = forecast.failures
    told: dict[str, tuple[Callable[[Forecast], float], tuple[str, ...], str]] = {
        "expected failures": (lambda x: x.failures.expected,
                              (text_number(f.expected, digits=2),), "count"),
        "failures ahead, at least": (lambda x: x.failures.low, (count(f.low, "failure"),), "count"),
        "failures ahead, at most": (lambda x: x.failures.high, (count(f.high, "failure"),),
                                    "count"),
        "chance of no failure ahead": (lambda x: x.failures.none, (chance(f.none),), "share"),
    }  # fmt: skip
    for quantity, (take, printed, unit) in told.items():
        t.part(
            quantity, "forecast", only_of(take), printed=printed, unit=unit,
            rule=f"{forecast.span}: sum over the engines in service of the chance of failing in "
            "the hours that each will run, averaged over the curves that the records leave open "
            "(chapters/ahead).",
        )  # fmt: skip
