"""What stands beside the answer on the first screen, where one answer for all would hide it."""

from __future__ import annotations

from fleetstats.advice.advice import say_word
from fleetstats.advice.results import Results
from fleetstats.chapters.answer.since import compose_since
from fleetstats.chapters.between_sources import BetweenSources
from fleetstats.chapters.claim import Claim
from fleetstats.chapters.groups import Pooled
from fleetstats.chapters.weakest import compose_weakest
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of

_Line = tuple[str, float | None, float | None, float | None, str]
"""For whom, engines, failed, at most how many fail by then, the verdict's word."""

_BY_PRIOR = (
    "With these few sources that of another rests on a stated prior of how far sources spread. "
)

MOST_ROWS = 8
"""Sources that the first screen lists, those of which most may fail first."""


def compose_beside(results: Results) -> tuple[Section, ...]:
    """Return the parts that stand beside the answer; most studies have none."""
    builds, sources = _by_build(results), _by_source(results)
    out = list(compose_since(results))
    if builds:
        title = "The answer for each build standard"
        out.append(Section(key="beside", title=title, blocks=builds))
    if sources:
        title = "The answer for each source, and for another like these"
        out.append(Section(key="beside-sources", title=title, blocks=sources))
    return (*out, *compose_weakest(results))


def _by_source(results: Results) -> tuple[Block, ...]:
    """Return the claim for these engines, each source and a new one, unless all are alike."""
    told, claim = results.chapters.get("between-sources"), results.chapters.get("claim")
    if not isinstance(told, BetweenSources) or not isinstance(claim, Claim) or told.claim is None:
        return ()
    each = [s for s in claim.subsets if s.group == "source"]
    if told.verdict == "inside" or not each:
        return ()
    c = told.claim
    listed = (
        sorted(each, key=lambda s: -s.failure_high)[:MOST_ROWS] if len(each) > MOST_ROWS else each
    )
    these = say_word(c.these_state, extrapolated=c.extrapolated, provisos=claim.provisos)
    new = say_word(c.new_state, extrapolated=c.extrapolated)
    lines: list[_Line] = [
        ("these engines, all sources", claim.n_engines, claim.n_failed, c.these_failure_high,
         these),
        ("an engine from a source like these", None, None, c.new_failure_high, new),
        *(
            (s.name, s.n_engines, s.n_failed, s.failure_high,
             say_word(s.state, extrapolated=s.extrapolated))
            for s in listed
        ),
    ]  # fmt: skip
    table = table_of(
        lines,
        key="first-sources",
        title=f"These engines, another source's, and each source alone, at {claim.hours:,.0f} h",
        columns=(
            col("name", "For", lambda x: x[0]),
            col("engines", "Engines", lambda x: x[1], "count"),
            col("failed", "Failed", lambda x: x[2], "count"),
            col("failure_high", "Fail by then, at most", lambda x: x[3], "percent",
                edge="high", beside=(1.0 - claim.target,)),
            col("state", "Claim", lambda x: x[4]),
        ),
        see=(
            (f"Of {len(each)} sources the {len(listed)} of which most may fail. "
             if len(listed) < len(each) else "")
            + (f"Of a new source nothing is known: {told.no_between} " if told.no_between else "")
            + (_BY_PRIOR if told.between is not None and told.between.prior_driven else "")
            + "More: " + point("pooling", "claim", otherwise="not worked out here") + "."
        ),
    )  # fmt: skip
    return (say(told.sentence, "caution"), table)


def _by_build(results: Results) -> tuple[Block, ...]:
    """Return the claim for each build, unless the builds are shown to be alike."""
    pooled, claim = results.chapters.get("pooling"), results.chapters.get("claim")
    if not isinstance(pooled, Pooled) or not isinstance(claim, Claim):
        return ()
    builds = next((g for g in pooled.groups if g.by == "build"), None)
    lines = [s for s in claim.subsets if s.group == "build"]
    if builds is None or builds.verdict == "inside" or not lines:
        return ()
    accepted = (1.0 - claim.target,)
    table = table_of(
        lines,
        key="first-builds",
        title=f"Each build alone, at {claim.hours:,.0f} h",
        columns=(
            col("name", "Build", lambda s: s.name),
            col("engines", "Engines", lambda s: s.n_engines, "count"),
            col("failed", "Failed", lambda s: s.n_failed, "count"),
            col("failure_high", "Fail by then, at most", lambda s: s.failure_high, "percent",
                edge="high", beside=accepted),
            col("state", "Claim", lambda s: say_word(
                s.state, extrapolated=s.extrapolated, provisos=claim.provisos)),
        ),
        see="More: " + point("pooling", "claim", otherwise="not worked out here") + ".",
    )  # fmt: skip
    lead = {
        "outside": "The builds differ by more than the margin, so the answer above is true of none "
        "of them.",
    }.get(
        builds.verdict,
        "The builds are not shown to be alike, so the answer above may be true of none of them.",
    )
    return (say(lead, "caution"), table)
