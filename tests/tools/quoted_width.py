"""How narrow can an honest pessimistic edge be where failures are few and the shape is not known?

``python tests/tools/quoted_width.py`` prints, for each truth, the mean log distance from the true
B10 life down to the quoted edge, and below what no rule can come that holds at `HELD` for every
shape of `SHAPES`: the lemma of Neyman & Pearson (1933). An edge L that holds lies above a life t0
in at most 1 - HELD of fleets whose B10 life is t0, whatever their shape. So "L > t0" is a test of
that size against each of them, and under the truth its chance is at most the power of the best
such test, that of the likelihood ratio. With x the log distance below the true life,

    mean distance >= integral over x > 0 of (1 - power(x)) - integral over x < 0 of power(x),

and beyond the true life (x < 0) no power counts for more than 1 - HELD, since the edge must hold at
the truth as well. An edge more than e^3 times too long counts as one of e^3.

Against each t0 the shape is taken that leaves the least power; a mixture of shapes could only
raise the limit. Also printed: the same for a shape that is known. At shape 1 and 1, 2 and 4
failures expected the edge lay 1.58, 1.16 and 0.92 below (1.22 in the middle), the limit is 1.04,
0.73 and 0.55, and 0.96, 0.70 and 0.45 with the shape known; so this does not show that no narrower
rule is.
"""

from __future__ import annotations

import argparse
import sys

import numpy as np
from quoted_study import SEED, Truth, life_low_h

from fleetstats.core.seeds import stream
from fleetstats.core.value import Array

HELD = 0.945
SHAPES = (0.8, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0)
DISTANCES = np.arange(-3.0, 6.01, 0.125)
LOG_B10 = float(np.log(-np.log(0.9)))


def draw(stop: Array, shape: float, scale_h: float, fleets: int, name: str) -> tuple[Array, Array]:
    """Return (fleets, n) hours and whether each engine failed; all followed from new."""
    life = scale_h * stream(SEED, name).standard_exponential((fleets, len(stop))) ** (1.0 / shape)
    return np.minimum(life, stop), life <= stop


def log_likelihood(hours: Array, failed: Array, shape: float, scale_h: float) -> Array:
    """Return (fleets,) log-likelihoods of one Weibull."""
    z = np.log(hours / scale_h)
    each = np.where(failed, np.log(shape / scale_h) + (shape - 1.0) * z, 0.0) - np.exp(shape * z)
    return np.asarray(each.sum(axis=1))


def best_power(stop: Array, truth: Truth, shape: float, life_h: float, fleets: int) -> float:
    """Return the power, at the truth, of the best test against a shape with that B10 life."""
    scale = life_h * float(np.exp(-LOG_B10 / shape))
    one, other = (truth.shape, truth.scale_h), (shape, scale)
    ratios = []
    for (b, s), name in ((one, "truth"), (other, f"rival-{shape:g}-{life_h:.6g}")):
        hours, failed = draw(stop, b, s, fleets, f"{name}-{truth.name}")
        ratio = log_likelihood(hours, failed, *one) - log_likelihood(hours, failed, *other)
        ratios.append(np.round(ratio, 9))
    at_truth, at_rival = ratios
    cut = float(np.quantile(at_rival, HELD, method="inverted_cdf"))
    tied = float((at_rival == cut).mean())
    # fleets at the cut (all those without a failure, say) count in part, so that the size is exact
    part = (1.0 - HELD - float((at_rival > cut).mean())) / tied
    return float((at_truth > cut).mean() + part * (at_truth == cut).mean())


def least_distance(power: Array) -> float:
    """Return the least mean log distance that such powers at `DISTANCES` leave."""
    step = float(DISTANCES[1] - DISTANCES[0])
    beyond = np.minimum(power, 1.0 - HELD)
    return step * float(np.where(DISTANCES > 0.0, 1.0 - power, -beyond).sum())


def main(arguments: list[str] | None = None) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description="Bound the width of any honest quoted edge.")
    parser.add_argument("--fleets", type=int, default=4000, help="fleets a power")
    parser.add_argument("--quoted", type=int, default=400, help="fleets that the rule is asked of")
    asked = parser.parse_args(arguments)
    sys.stdout.write("true shape, failures expected: quoted; no rule below; the shape known\n")
    for shape in (1.0, 2.0, 3.0, 4.0):
        for expected in (1.0, 2.0, 4.0):
            truth = Truth.of("staggered", 50, shape, expected)
            life = truth.scale_h * float(np.exp(LOG_B10 / shape))
            stop = truth.stop
            powers = np.array([[best_power(stop, truth, b, life * float(np.exp(-x)), asked.fleets)
                                for x in DISTANCES] for b in SHAPES])  # fmt: skip
            edges = np.array([life_low_h(f) for f in truth.draw(asked.quoted, SEED)])
            known = least_distance(powers[SHAPES.index(shape)])
            quoted = float(np.log(life / np.maximum(edges, 1e-3)).mean())
            limit = least_distance(powers.min(axis=0))
            sys.stdout.write(f"{shape:g}, {expected:g}: {quoted:.2f}; {limit:.2f}; {known:.2f}\n")
            sys.stdout.flush()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
