"""Findings on the records as a whole, from counts: one text, however the records were counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from fleetstats.records.clocks.clocks import stated_factors
from fleetstats.records.rules import PLANNED
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.limits import HEAP_CHANCE, HEAP_SHARE, LEAST_FOR_HEAPS
from fleetstats.vocabulary.unknown import cause_known

ROUND_H = 1e-6
STEPS = (100.0, 50.0, 10.0)
"""Roundings looked for, in hours, coarsest first."""


def find_missing_cause(ending: str, cause: str, found_at_teardown: bool | None) -> str:
    """Return the kind of finding where an ending lacks the cause that it needs; else empty."""
    if ending in ("running", "lost", "modified") or cause_known(cause):
        return ""
    if ending == "removed" and found_at_teardown is None:
        return "removal-unexplained"
    return "" if ending in PLANNED else "cause-missing"


def tell_missing_causes(
    code: str, n: int, settings: Settings, file: str, row: int | None = None
) -> Finding:
    """Return the finding on `n` endings of a kind of `find_missing_cause`; `row` is the first."""
    unknown = settings.question.unknown_cause
    many = {
        "cause-missing": ("failure or finding", "failures or findings"),
        "removal-unexplained": ("removal", "removals"),
    }[code]
    told = _many(n, *many)
    return make_finding(code, file=file, row=row, column="cause", n=told, unknown=unknown)


def _many(n: int, one: str, many: str) -> str:
    return f"{n:,} {one if n == 1 else many}"


def tell_meters(rows: Counter[str], settings: Settings) -> list[Finding]:
    """Return a warning when more than one meter kind stands behind the hours; else nothing."""
    if len(rows) < 2:
        return []
    told = ", ".join(f"{n:,} rows of {m} hours" for m, n in rows.most_common())
    ranges = ", ".join(
        f"{m} × {f.factor:g} ({f.low:g} to {f.high:g})"
        for m, f in stated_factors(settings).items()
        if m in rows and m != settings.hours.meter
    )
    return [make_finding("meter-mixed", column="meter", told=told, ranges=ranges)]


def tell_heap(source: str, n: int, hits_at: Mapping[float, int]) -> list[Finding]:
    """Return the coarsest rounding of a source's hours that chance does not explain, if any.

    By chance 1 reading in 10 is a multiple of 10 h, 1 in 50 of 50 h, 1 in 100 of 100 h; the
    exact binomial tail judges each.

    Parameters
    ----------
    source : str
        Blank for all records.
    n : int
        Readings.
    hits_at : mapping
        Each of `STEPS` to the number of readings that are multiples of it.
    """
    for step in STEPS if n >= LEAST_FOR_HEAPS else ():
        hits = hits_at[step]
        if hits * step > HEAP_SHARE * n and binomial_tail(hits, n, 1.0 / step) < HEAP_CHANCE:
            return [
                make_finding(
                    "hours-heaped",
                    column="exit_hours",
                    value=f"{step:g}",
                    hits=hits,
                    n=n,
                    whose=f"source {source!r}" if source else "the records",
                    step=step,
                    by_chance=f"{n / step:,.0f}" if n >= step else "fewer than 1",
                    half=step / 2,
                )
            ]
    return []


def binomial_tail(hits: int, n: int, p: float) -> float:
    """Return the chance of at least `hits` in `n` trials, each with chance `p`; exact."""
    from scipy.special import betainc

    return float(betainc(hits, n - hits + 1, p)) if hits > 0 else 1.0


def tell_undated(n: int, running: int, file: str) -> Finding:
    """Return the finding on `n` of a file's running engines that have no dated reading."""
    return make_finding(
        "reading-undated", file=file, column="last_reading_date", n=n, running=running
    )


def tell_more_than_built(seen: int, built: int) -> Finding:
    """Return the finding on more engines named than were built."""
    return make_finding("more-than-built", value=str(seen), seen=seen, built=built)


def tell_fate_unknown(unknown: int, built: int, *, names: str = "", file: str = "") -> Finding:
    """Return the finding on engines built that are in no row; `names` may name some."""
    return make_finding(
        "fate-unknown", file=file, value=str(unknown), unknown=unknown, built=built, names=names
    )
