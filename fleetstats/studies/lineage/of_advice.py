"""Figures of the verdict, the overhaul band and the answers in hours."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fleetstats.advice.advice import CostAnswer, OverhaulBand, RiskAnswer, Verdict
from fleetstats.advice.judge import accepted_failure
from fleetstats.bands.interval import Interval
from fleetstats.chapters.answer import in_so_many
from fleetstats.core.units import text_decided, text_hours, text_number
from fleetstats.studies.lineage.tracing import Taken, Tracing, edges_of, only, only_of, rest_of
from fleetstats.vocabulary.wording import at_least, at_most, chance, count, stated

BOUND = (
    "1 minus the lower edge of the reliability at the claimed hours: the better of the worst over "
    "all shapes that the records leave open and the count of engines that assumes no shape, held "
    "to the engines counted on the way there (advice/quoted.py)."
)
OPTIMISTIC = "1 minus the upper edge of the reliability at the claimed hours, by the method chosen."
ESTIMATE = (
    "1 minus the best estimate of the reliability at the claimed hours, by the method chosen for "
    "these records (bands/choose.py)."
)
BAND_RULE = "by the rule of advice/overhaul_band.py: never past the evidence, rounded to 50 h."


def trace_asked(t: Tracing) -> None:
    """Add what was asked: claimed hours, accepted chance, target share."""
    s, v = t.results.settings, t.results.advice.verdict
    if v is not None:
        t.setting(
            "claimed hours", v.claimed_h, lambda ask: ask.settings.study.claimed_interval_h,
            printed=(text_hours(v.claimed_h),), unit="h",
            rule="As the study file states it.",
        )  # fmt: skip
        t.setting(
            "accepted chance of failure", v.accepted_failure,
            lambda ask: accepted_failure(ask.settings),
            printed=(stated(v.accepted_failure), *_accepted_in_so_many(v)),
            unit="share", figures=("target-share",),
            rule="As the study states it, else 1 minus the target share.",
        )  # fmt: skip
    t.setting(
        "target share", s.targets.reliability, lambda ask: ask.settings.targets.reliability,
        printed=(stated(s.targets.reliability),), unit="share",
        rule="As the study states it, or the default.",
    )  # fmt: skip
    t.setting(
        "accepted chance between checks", s.targets.risk_per_check,
        lambda ask: ask.settings.targets.risk_per_check,
        printed=() if s.targets.risk_per_check is None else (stated(s.targets.risk_per_check),),
        unit="share", rule="As the study states it.",
    )  # fmt: skip


def _accepted_in_so_many(v: Verdict) -> list[str]:
    """Return the accepted chance as it stands beside either bound: "10 in 100"."""
    edges = ((_rest(v.reliability, "low"), True), (_rest(v.reliability, "high"), False))
    return [in_so_many(p, v.accepted_failure, up=up)[1] for p, up in edges if p is not None]


def trace_verdict(t: Tracing) -> None:
    """Add the verdict's word, its bounds and estimate, and what would turn it."""
    v = t.results.advice.verdict
    if v is None:
        return
    accepted = v.accepted_failure
    t.part(
        "verdict on the claimed interval", "verdict", lambda x: only(x.word),
        printed=(v.word.replace("-", " "),), unit="word",
        rule="The upper bound against the accepted chance, within the evidence "
        f"(advice/judge.py): {v.because}.",
    )  # fmt: skip
    sides = {
        "low": ("chance of failure by the claim, upper bound", at_most, True, BOUND),
        "estimate": ("chance of failure by the claim", chance, None, ESTIMATE),
        "high": ("chance of failure by the claim, lower bound", at_least, False, OPTIMISTIC),
    }
    for side, (quantity, write, up, rule) in sides.items():
        p = _rest(v.reliability, side)
        if p is None:
            continue
        many = () if up is None else (in_so_many(p, accepted, up=up)[0],)
        t.part(
            quantity, "verdict", _rest_on(side),
            printed=(write(p, accepted), *many), unit="share", rule=rule,
        )  # fmt: skip
    _beside(t, v)


def _rest(x: Interval, side: str) -> float | None:
    edge = getattr(x, side)
    return None if edge is None else 1.0 - edge


def _rest_on(side: str) -> Callable[[Verdict], Taken]:
    return lambda v: rest_of(v.reliability, side)


def _edge_on(take: Callable[[Any], Interval | None], side: str) -> Callable[[Any], Taken]:
    return lambda x: edges_of(take(x), side)


def _beside(t: Tracing, v: Verdict) -> None:
    """Add the bound with failures left out, and how many unreported failures turn the verdict."""
    high = v.failure_high_with_left_out
    if high is not None:
        t.part(
            "chance of failure by the claim, upper bound with failures left out", "verdict",
            lambda x: only(x.failure_high_with_left_out),
            printed=(at_most(high, v.accepted_failure),), unit="share",
            rows=tuple((x.file, x.row) for x in t.results.built.left_out),
            rule="The same bound with the failures that no life counts, at their least favourable "
            "ages (advice/left_out.py).",
        )  # fmt: skip
    if v.hidden_to_turn is not None:
        t.part(
            "unreported failures that turn the verdict", "verdict",
            lambda x: only(x.hidden_to_turn),
            printed=(count(v.hidden_to_turn, "unreported failure"),), unit="count",
            rule="Least number of failures more, placed at their worst, with which the claim is "
            "not supported any more (advice/tipping.py).",
        )  # fmt: skip


def trace_band(t: Tracing) -> None:
    """Add the edges of the overhaul band."""
    edges: dict[str, tuple[Callable[[OverhaulBand], float | None], str]] = {
        "hours from which overhaul is planned": (
            lambda b: b.plan_from.hours, "Earliest pessimistic edge of the answers that speak"),
        "hours at which overhaul is expected": (
            lambda b: b.expect_at.hours, "Earliest best estimate of the answers that speak"),
        "hours past which records speak for no engine": (
            lambda b: b.not_beyond.hours, "Earliest optimistic edge of the answers that speak"),
        "hours to which the other targets are carried": (
            lambda b: b.else_to_h, "Earliest pessimistic edge of the targets that are shown"),
    }  # fmt: skip
    band = t.results.advice.overhaul_band
    for quantity, (take, rule) in edges.items():
        t.part(
            quantity, "band", only_of(take),
            printed=(text_hours(take(band)),), unit="h", rule=f"{rule}, {BAND_RULE}",
        )  # fmt: skip


def trace_answers(t: Tracing) -> None:
    """Add the answers in hours and the shape."""
    a = t.results.advice
    life = {"low": ", lower edge", "estimate": "", "high": ", upper edge"}
    of: tuple[tuple[str, str, Interval | None, Callable[[Any], Any], str], ...] = (
        ("life of the target share", "reliability", a.reliability.life, lambda x: x.life,
         "Hours that the target share of engines should reach: the lower edge as the verdict's "
         "bound is quoted (advice/life.py)."),
        ("Weibull shape", "wear-out", a.wear_out.shape, lambda x: x.shape,
         "Maximum of the likelihood of a Weibull curve, with its band (survival/weibull)."),
        ("cheapest age", "cost", a.cost.optimum, _optimum,
         "Age of least cost per hour at the stated ratio of costs, edges from weighted resampling "
         "(advice/cost)."),
        ("age by the accepted chance between checks", "risk",
         None if a.risk.chosen is None else a.risk.chosen.age, _chosen,
         "Hours from which the chance of failing before the next check exceeds what is accepted "
         "(advice/risk.py)."),
    )  # fmt: skip
    for quantity, part, x, take, rule in of:
        for side, tail in life.items():
            value = None if x is None else getattr(x, side)
            if value is None:
                continue
            t.part(
                quantity + tail, part,
                _edge_on(take, side),
                printed=_of_answer(part, value), unit="number" if part == "wear-out" else "h",
                rule=rule,
            )  # fmt: skip


def _of_answer(part: str, value: float) -> tuple[str, ...]:
    if part == "wear-out":
        return (text_number(value), text_decided(value, 1.0, unit=""))
    return (text_hours(value),)


def _optimum(x: CostAnswer) -> Interval | None:
    return x.optimum


def _chosen(x: RiskAnswer) -> Interval | None:
    return None if x.chosen is None else x.chosen.age
