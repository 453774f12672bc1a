"""What stands beside the answer on the first screen, where one answer for all would hide it."""

from __future__ import annotations

from fleetstats.advice.advice import say_word
from fleetstats.advice.results import Results
from fleetstats.chapters.claim import Claim
from fleetstats.chapters.groups import Pooled
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of


def compose_beside(results: Results) -> tuple[Section, ...]:
    """Return the parts that stand beside the answer; most studies have none."""
    blocks = _by_build(results)
    if not blocks:
        return ()
    return (Section(key="beside", title="The answer for each build standard", blocks=blocks),)


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
