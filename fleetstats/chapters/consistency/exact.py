"""The quantities in full, as `results.json` holds them, each with its path there."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.bands.interval import Interval
from fleetstats.chapters.claim import Claim

WITH_LEFT_OUT = "chance of failure by the claim, upper bound with failures left out"

Known = tuple[str, str, float]
"""Key of a quantity, its path in the results, its value; shares in percent."""


def list_exact(results: Results) -> list[Known]:
    """Return every quantity that the results hold, once for each place where they hold it."""
    found = [*_records(results), *_advice(results), *_verdict(results), *_claim(results)]
    found += _chapters(results)
    return [(key, f"results.json, {path}", float(x)) for key, path, x in found if x is not None]


Held = list[tuple[str, str, float | None]]


def _records(results: Results) -> Held:
    s, total, audit = results.spells, results.built.funnel.total, results.audit
    return [
        ("engines used", "built.funnel.total.engines_used", total.engines_used),
        ("lives", "built.spells.weight", float(s.weight.sum())),
        ("failures", "built.spells.event", s.n_failed),
        ("failures", "advice.n_failed", results.advice.n_failed),
        ("failures left out", "built.left_out", s.n_left_out or None),
        ("engine hours", "built.spells", s.exposure_h),
        ("rows read", "audit.n_read", audit.n_read),
        ("rows used", "audit.n_used", audit.n_used),
        ("rows set aside", "audit.n_set_aside", audit.n_set_aside),
    ]


def _advice(results: Results) -> Held:
    a = results.advice
    band, life = a.overhaul_band, a.reliability.life
    return [
        ("end of the evidence", "advice.horizon.supported_h", a.horizon.supported_h),
        ("oldest age seen", "advice.horizon.oldest_h", a.horizon.oldest_h),
        ("hours from which overhaul is planned", "advice.overhaul_band.plan_from",
         band.plan_from.hours),
        ("hours at which overhaul is expected", "advice.overhaul_band.expect_at",
         band.expect_at.hours),
        ("hours past which records speak for no engine", "advice.overhaul_band.not_beyond",
         band.not_beyond.hours),
        *_edges("life of the target share", "advice.reliability.life", life),
        *_edges("Weibull shape", "advice.wear_out.shape", a.wear_out.shape),
        ("cheapest age", "advice.cost.optimum",
         None if a.cost.optimum is None else a.cost.optimum.estimate),
    ]  # fmt: skip


def _edges(key: str, path: str, x: Interval | None) -> Held:
    if x is None:
        return []
    return [
        (key, f"{path}.estimate", x.estimate),
        (f"{key}, lower edge", f"{path}.low", x.low),
        (f"{key}, upper edge", f"{path}.high", x.high),
    ]


def _verdict(results: Results) -> Held:
    v = results.advice.verdict
    if v is None:
        return []
    r, path = v.reliability, "advice.verdict"
    return [
        ("claimed hours", f"{path}.claimed_h", v.claimed_h),
        ("accepted chance of failure", f"{path}.accepted_failure", 100.0 * v.accepted_failure),
        ("hours past the claim", f"{path}.exposure_past_h", v.exposure_past_h),
        ("chance of failure by the claim", f"{path}.reliability.estimate", _rest(r.estimate)),
        ("chance of failure by the claim, upper bound", f"{path}.reliability.low", _rest(r.low)),
        ("chance of failure by the claim, lower bound", f"{path}.reliability.high", _rest(r.high)),
        (WITH_LEFT_OUT, f"{path}.with_left_out", _percent(v.failure_high_with_left_out)),
        ("failures left out", f"{path}.n_left_out", v.n_left_out or None),
    ]


def _percent(share: float | None) -> float | None:
    return None if share is None else 100.0 * share


def _rest(share: float | None) -> float | None:
    return None if share is None else 100.0 * (1.0 - share)


def _claim(results: Results) -> Held:
    claim = results.chapters.get("claim")
    if not isinstance(claim, Claim):
        return []
    path = "chapters.claim"
    return [
        ("engines used", f"{path}.n_engines", claim.n_engines),
        ("failures", f"{path}.n_failed", claim.n_failed),
        ("engine hours", f"{path}.exposure_h", claim.exposure_h),
        ("hours past the claim", f"{path}.exposure_past_h", claim.exposure_past_h),
        ("end of the evidence", f"{path}.supported_h", claim.supported_h),
        ("oldest age seen", f"{path}.oldest_h", claim.oldest_h),
        ("accepted chance of failure", f"{path}.target", _rest(claim.target)),
        ("chance of failure by the claim, upper bound", f"{path}.failure_high",
         100.0 * claim.failure_high),
        (WITH_LEFT_OUT, f"{path}.failure_high_with_left_out",
         _percent(claim.failure_high_with_left_out)),
        ("failures left out", f"{path}.n_left_out", claim.n_left_out or None),
        ("chance of failure by the claim, lower bound", f"{path}.failure_low",
         100.0 * claim.failure_low if claim.hours <= claim.supported_h else None),
    ]  # fmt: skip


def _chapters(results: Results) -> Held:
    out: Held = []
    paths = {
        "expected failures": ("forecast", "failures", "expected"),
        "failures ahead, at least": ("forecast", "failures", "low"),
        "failures ahead, at most": ("forecast", "failures", "high"),
        "expected reserve per hour": ("forecast", "reserve", "mean_per_h"),
        "end of the evidence": ("outlook", "horizon_h"),
        "failures before detection per 1,000 h": (
            "check-interval",
            "per_1000_at_usual",
            "estimate",
        ),
    }
    for key, (chapter, *names) in paths.items():
        value: object = results.chapters.get(chapter)
        for name in names:
            value = getattr(value, name, None)
        if isinstance(value, int | float):
            out.append((key, ".".join(("chapters", chapter, *names)), float(value)))
    slip = getattr(results.chapters.get("check-interval"), "slip_at_usual", None)
    if isinstance(slip, Interval) and slip.estimate is not None:
        path = "chapters.check-interval.slip_at_usual"
        out.append(("share of faults that checks miss", path, 100.0 * slip.estimate))
    none = getattr(getattr(results.chapters.get("forecast"), "failures", None), "none", None)
    if isinstance(none, float):
        out.append(("chance of no failure ahead", "chapters.forecast.failures.none", 100.0 * none))
    return out
