"""Simulated pools of sources, with a known spread between them."""

from __future__ import annotations

import numpy as np

from fleetstats.spells import Spells


def pool(rng, sources: int, n: int, tau: float, *, found: bool = False) -> tuple[Spells, float]:
    """Return lives of several sources and the scale of one more source not among them."""
    shape, log_scale = 2.5, np.log(2000) + rng.normal(0, tau, sources + 1)
    parts = []
    for s in range(sources):
        scale = np.exp(log_scale[s])
        entry = np.where(rng.random(n) < 0.3, rng.uniform(0, 600, n), 0.0)
        stop = entry + rng.uniform(100, 1500, n)
        life = scale * ((entry / scale) ** shape + rng.exponential(size=n)) ** (1 / shape)
        failed, end = life <= stop, np.minimum(life, stop)
        upper = np.where(failed & found, np.ceil(end / 50) * 50, end)
        lower = np.where(failed & found, np.maximum(entry, upper - 50), end)
        parts.append(
            Spells.of(entry, upper, failed, exit_lower=lower, source=np.full(n, f"s{s}"),
                      unit=[f"s{s}-{i}" for i in range(n)])
        )  # fmt: skip
    out = parts[0]
    for p in parts[1:]:
        out = out.join(p)
    return out, float(np.exp(log_scale[-1]))
