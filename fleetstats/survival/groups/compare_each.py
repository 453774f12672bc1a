"""Each of several groups against all others together, and what that makes of them all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fleetstats.spells import Spells
from fleetstats.survival.groups.pooling import ScaleRatio, compare_scales


def compare_each(
    parts: Mapping[str, Spells],
    *,
    margin: tuple[float, float],
    level: float,
    shapes: tuple[float, ...],
    public_rate_per_h: float | None,
) -> tuple[ScaleRatio, ...]:
    """Return the ratio of two groups' lives, or of each of more against all others together.

    Parameters
    ----------
    parts : mapping
        Lives of two groups or more, by name.
    margin, level, shapes, public_rate_per_h
        As in `compare_scales`.
    """
    names = list(parts)
    held = names if len(names) > 2 else names[:1]
    out = []
    for name in held:
        others = [n for n in names if n != name]
        rest = parts[others[0]]
        for n in others[1:]:
            rest = rest.join(parts[n])
        out.append(
            compare_scales(
                parts[name],
                rest,
                names=(name, others[0] if len(others) == 1 else "all others"),
                margin=margin,
                level=level,
                shapes=shapes,
                public_rate_per_h=public_rate_per_h,
                comparisons=len(held),
            )
        )
    return tuple(out)


def verdict_of(ratios: Sequence[ScaleRatio]) -> str:
    """Return what ratios say of all groups: "inside" if each is, "outside" if any is."""
    words = {r.verdict for r in ratios}
    return "outside" if "outside" in words else "cannot-tell" if len(words) > 1 else words.pop()
