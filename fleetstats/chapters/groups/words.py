"""What is said of groups beside each other."""

from __future__ import annotations

from fleetstats.chapters.groups.influence import InfluenceLine
from fleetstats.chapters.groups.values import PoolingBy
from fleetstats.survival.groups.pooling import ScaleRatio


def verdict_sentence(by: str, verdict: str, ratios: tuple[ScaleRatio, ...]) -> str:
    """Say whether the groups may be pooled, by the bands of their ratios against the margin."""
    n = len(ratios) if len(ratios) > 1 else 2
    if verdict == "inside":
        return (
            f"The {n} {by}s are alike within the margin; pooling them is supported by the records, "
            "if they share failure level, clock and build."
        )
    far = [r.name for r in ratios if r.verdict == "outside"]
    if verdict == "outside":
        who = ", ".join(far)
        return (
            f"Lives differ by more than the margin between {by}s ({who}); pooling them would hide "
            "that. Read each alone."
        )
    open_ = [r.name for r in ratios if r.verdict == "cannot-tell"]
    which = "" if len(open_) in (len(ratios), 0) else f" (open for {', '.join(open_)})"
    carried = (
        "; the spread between them is carried into the band for a new one"
        if by == "source"
        else "; read each beside the pooled answer"
    )
    return (
        f"The records cannot tell whether the {n} {by}s are alike within the margin{which}. That "
        f"no difference is shown does not permit pooling{carried}."
    )


def pooling_sentence(groups: tuple[PoolingBy, ...], influence: tuple[InfluenceLine, ...]) -> str:
    """Say of all groupings whether pooling is shown, and what turns the conclusion."""
    carrying = [x for x in influence if x.carries]
    turns = [x for x in influence if x.turns]
    if carrying:
        names = ", ".join(f"{x.kind} {x.name}" for x in carrying)
        carried = f"The conclusion turns without {names}, by more than chance explains."
    elif turns:
        names = ", ".join(f"{x.kind} {x.name}" for x in turns)
        carried = (
            f"The conclusion stands near its limit: it turns without {names}, but moves no more "
            "than without as many engines drawn at random."
        )
    elif influence:
        carried = "No single source, build or engine that was left out turns the conclusion."
    else:
        carried = ""
    if not groups:
        return f"There is one group; nothing to pool. {carried}".strip()
    return f"{groups[0].sentence} {carried}".strip()
