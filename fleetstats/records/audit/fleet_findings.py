"""Findings on the records as a whole, from counts: one text, however the records were counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from fleetstats.records.audit.finding import Finding
from fleetstats.records.clocks.clocks import stated_factors
from fleetstats.study.rules import PLANNED
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.kinds import make_finding
from fleetstats.vocabulary.unknown import cause_known

LEAST_FOR_HEAPS = 30
"""Readings of a source below which rounding cannot be told from chance."""
HEAP_CHANCE = 1e-4
HEAP_SHARE = 3.0
"""A heap is called when rounded hours are this many times as frequent as chance would have it."""
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
    message, advice = {
        "cause-missing": (
            f"{_many(n, 'failure or finding', 'failures or findings')} without a cause.",
            f"They count as {unknown} (question.unknown_cause).",
        ),
        "removal-unexplained": (
            f"{_many(n, 'removal', 'removals')} without a reason, counted as censored.",
            "Ask why: an engine removed because of a finding is no fair censoring.",
        ),
    }[code]
    return make_finding(code, message, advice, file=file, row=row, column="cause")


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
    return [
        make_finding(
            "meter-mixed",
            f"The records hold {told}, converted by {ranges}.",
            "An error in a factor is the same error in every answer; the report shows both ends.",
            column="meter",
        )
    ]


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
                    f"{hits:,} of the {n:,} readings of "
                    f"{f'source {source!r}' if source else 'the records'} are "
                    f"multiples of {step:g} h; chance would have "
                    f"{f'{n / step:,.0f}' if n >= step else 'fewer than 1'}.",
                    f"Ask for readings as the meter shows them; until then take each as good to "
                    f"{step / 2:g} h.",
                    column="exit_hours",
                    value=f"{step:g}",
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
        "reading-undated",
        f"{n:,} of the {running:,} running engines have no date of their last reading.",
        "Without it stale readings cannot be told, nor the rate of use.",
        file=file,
        column="last_reading_date",
    )


def tell_all_from_new(settings: Settings, file: str, sheet: str = "") -> Finding:
    """Return the finding on a file without entry hours."""
    return make_finding(
        "all-from-new",
        "The file has no entry hours; all its engines count as followed from "
        f"{'overhaul' if settings.hours.basis == 'since-overhaul' else 'new'}.",
        "If you first heard of an engine at 600 h, its entry is 600.",
        column="entry_hours",
        file=file,
        sheet=sheet,
    )


def tell_more_than_built(seen: int, built: int) -> Finding:
    """Return the finding on more engines named than were built."""
    return make_finding(
        "more-than-built",
        f"The records hold {seen:,} engines; fleet.built says {built:,}.",
        "One id may be written in two ways, or the count is old.",
        value=str(seen),
    )


def tell_fate_unknown(unknown: int, built: int, *, names: str = "", file: str = "") -> Finding:
    """Return the finding on engines built that are in no row; `names` may name some."""
    return make_finding(
        "fate-unknown",
        f"{unknown:,} of the {built:,} engines built are not in the records.{names}",
        "They are counted, never dropped: ask for them.",
        file=file,
        value=str(unknown),
    )
