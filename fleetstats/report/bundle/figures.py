"""Compare two results figure by figure."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from fleetstats.core.value import Value, value

TOLERANCE = 1e-6
"""Relative difference up to which two runs on unlike machines agree; results of optimisers and
quadrature move in the last digits with the versions of the libraries. Alike versions are expected
to agree to the bit, and the count says how many do."""


@value
class Difference(Value):
    """One figure that differs: its path in ``results.json``, as bundled and as run now."""

    path: str
    bundled: str
    now: str
    relative: float | None


def compare_figures(
    before: Any, now: Any, *, tolerance: float
) -> tuple[int, int, tuple[Difference, ...]]:
    """Compare two results leaf by leaf: how many equal, how many within tolerance, which differ."""
    old, new = dict(_leaves(before)), dict(_leaves(now))
    equal = within = 0
    out: list[Difference] = []
    for path in dict.fromkeys([*old, *new]):
        a, b = old.get(path, "absent"), new.get(path, "absent")
        if type(a) is type(b) and a == b:
            equal += 1
            continue
        gap = _gap(a, b)
        if gap is not None and gap <= tolerance:
            within += 1
        else:
            out.append(Difference(path=path, bundled=str(a)[:80], now=str(b)[:80], relative=gap))
    return equal, within, tuple(out)


def _gap(a: object, b: object) -> float | None:
    for x in (a, b):
        if isinstance(x, bool) or not isinstance(x, int | float):
            return None
    assert isinstance(a, int | float)
    assert isinstance(b, int | float)
    if not (math.isfinite(a) and math.isfinite(b)):
        return None
    return 0.0 if a == b else abs(a - b) / max(abs(a), abs(b))


def _leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        if not value:
            yield path, "{}"
        for k, v in value.items():
            yield from _leaves(v, f"{path}.{k}" if path else str(k))
    elif isinstance(value, list):
        yield f"{path}.length", len(value)
        for i, v in enumerate(value):
            yield from _leaves(v, f"{path}[{i}]")
    else:
        yield path, value
