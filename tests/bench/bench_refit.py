"""Ten thousand refits of 250 engines beside loops over lifelines and reliability.

Run by hand: ``python tests/bench/bench_refit.py [fits of each library]``. A few tens of the
libraries' fits are timed on the same weighted fleets and scaled. Prints ratios within this one
run, of wall and of processor time (the fairer one on a busy machine); nothing is asserted by a
clock. Goals: 2,000 times faster than lifelines, 400 times faster than reliability.
"""

from __future__ import annotations

import contextlib
import io
import logging
import sys
import time
import tracemalloc
import warnings
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from fleetstats.bands.resampling.refit import refit
from fleetstats.bands.resampling.weights import Resampling
from fleetstats.spells import Spells
from fleetstats.survival import solve_weibull

DRAWS = 10_000


def fleet(*, late: bool) -> Spells:
    """Return 250 engines of staggered ages: shape 2, scale 3,000 h, 14 or so failures."""
    rng = np.random.default_rng(1)
    stop = np.linspace(50.0, 1450.0, 250)
    entry = np.where(late & (rng.random(250) < 0.5), stop * rng.uniform(0, 0.8, 250), 0.0)
    life = 3000.0 * ((entry / 3000.0) ** 2 + rng.exponential(size=250)) ** 0.5
    return Spells.of(entry, np.minimum(life, stop), life <= stop)


def timed(run: Callable[[], Any]) -> tuple[Any, float, float]:
    """Return the result with wall and processor seconds."""
    wall, busy = time.perf_counter(), time.process_time()
    out = run()
    return out, time.perf_counter() - wall, time.process_time() - busy


def lifelines_loop(lives: Spells, weights: np.ndarray) -> None:
    """Fit each row of weights with lifelines, as a user of it would."""
    from lifelines import WeibullFitter

    entry = lives.entry if lives.entry.any() else None
    for w in weights:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            WeibullFitter().fit(lives.exit_upper, lives.failed, weights=w, entry=entry)


def reliability_loop(lives: Spells, rng: np.random.Generator, n: int) -> None:
    """Fit resampled rows with reliability, which knows no weights."""
    from reliability.Fitters import Fit_Weibull_2P

    for _ in range(n):
        k = rng.integers(0, len(lives), len(lives))
        end, failed = lives.exit_upper[k], lives.failed[k]
        with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()):
            warnings.simplefilter("ignore")
            Fit_Weibull_2P(
                failures=end[failed],
                right_censored=end[~failed],
                show_probability_plot=False,
                print_results=False,
            )


def main(fits: int) -> None:
    """Time all three and print."""
    logging.disable(logging.CRITICAL)
    import lifelines  # noqa: F401 - its import is not timed
    import reliability.Fitters  # noqa: F401

    for late in (False, True):
        lives = fleet(late=late)
        refit(lives, 1000, seed=1)
        draws, wall, cpu = timed(partial(refit, lives, DRAWS, seed=1))
        tracemalloc.start()
        refit(lives, DRAWS, seed=1)
        peak = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        w = Resampling.of_spells(lives, DRAWS, seed=1, scheme="fractional").weights_of(0)
        worst = 0.0
        for i in range(200):
            one = solve_weibull(lives.entry, lives.exit_upper, lives.failed, w[i])
            worst = max(worst, abs(draws.shape[i] / one.shape - 1))
        who = "delayed entry" if late else "from new"
        print(f"{who}: {lives.n_failed:g} failures, {DRAWS:,} refits in {wall:.3f} s")
        print(f"  {cpu:.3f} s of processor, {peak:.0f} MB, {draws.n_direct} fitted directly")
        print(f"  largest difference from single fits {worst:.1e} in shape")
        loops: dict[str, tuple[Callable[[], None], int]] = {
            "lifelines": (partial(lifelines_loop, lives, w[:fits]), 2_000)
        }
        if not late:
            rng = np.random.default_rng(2)
            loops["reliability"] = (partial(reliability_loop, lives, rng, fits), 400)
        for name, (loop, goal) in loops.items():
            _, their_wall, their_cpu = timed(loop)
            by_wall, by_cpu = their_wall / wall * DRAWS / fits, their_cpu / cpu * DRAWS / fits
            print(
                f"  {name}: {their_wall / fits:.4f} s a fit; {by_wall:,.0f} times faster by wall, "
                f"{by_cpu:,.0f} by processor (goal {goal:,})"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
