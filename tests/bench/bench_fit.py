"""One fit of a million lives beside lifelines and reliability: time, memory, agreement.

Run by hand: ``python tests/bench/bench_fit.py [lives]``. Prints ratios within this one run, of wall
and of processor time (the fairer one on a busy machine); nothing is asserted by a clock. Goals:
without delayed entry 50 times faster than lifelines and 20 times faster than reliability, with
delayed entry 50 times faster than lifelines, in less than 100 MB above the data; the public call
at most twice its kernel. All other tasks are in `bench_beside.py`.
"""

from __future__ import annotations

import sys
import time
import tracemalloc
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np

from fleetstats.spells import Spells
from fleetstats.survival import solve_weibull
from fleetstats.survival.weibull.fit_weibull import fit_weibull


def peak_above(run: Callable[[], Any]) -> float:
    """Return the MB that a call holds at most, beyond what was there before."""
    tracemalloc.start()
    run()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def timed(run: Callable[[], Any], times: int) -> tuple[Any, float, float]:
    """Return the result, and the least wall and processor seconds of several runs."""
    wall = cpu = np.inf
    out = None
    for _ in range(times):
        start, busy = time.perf_counter(), time.process_time()
        out = run()
        cpu = min(cpu, time.process_time() - busy)
        wall = min(wall, time.perf_counter() - start)
    return out, wall, cpu


def lives(n: int, *, late: bool) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return entry, exit and failed of an invented fleet: shape 2.5, scale 2,500 h."""
    rng = np.random.default_rng(1)
    entry = rng.uniform(0, 1500, n) if late else np.zeros(n)
    life = 2500 * (rng.exponential(size=n) + (entry / 2500) ** 2.5) ** 0.4
    stop = entry + rng.uniform(200, 800, n)
    return entry, np.minimum(life, stop), life <= stop


def lifelines_fit(entry: np.ndarray, end: np.ndarray, failed: np.ndarray) -> tuple[float, float]:
    """Return lifelines' shape and scale, from its own start (with late entry near the truth)."""
    from lifelines import WeibullFitter

    late = bool(entry.any())
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        f = WeibullFitter().fit(
            end,
            failed,
            entry=entry if late else None,
            # Its own start runs away with late entry; a near one spares it time, in its favour.
            initial_point=np.array([2400.0, 2.4]) if late else None,
        )
    return float(f.rho_), float(f.lambda_)


def reliability_fit(end: np.ndarray, failed: np.ndarray) -> tuple[float, float]:
    """Return reliability's shape and scale."""
    from reliability.Fitters import Fit_Weibull_2P

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        f = Fit_Weibull_2P(
            failures=end[failed],
            right_censored=end[~failed],
            show_probability_plot=False,
            print_results=False,
        )
    return float(f.beta), float(f.alpha)


def main(n: int) -> None:
    """Print the table."""
    print(f"{n:,} lives")
    lifelines_fit(*lives(100, late=False))
    reliability_fit(*lives(400, late=False)[1:])
    for late in (False, True):
        entry, end, failed = lives(n, late=late)
        ours = lambda: solve_weibull(entry if late else None, end, failed)  # noqa: B023, E731
        memory = peak_above(ours)
        fit, wall, cpu = timed(ours, 9)
        title = "with delayed entry" if late else "followed from new"
        print(
            f"{title}: {wall * 1e3:.0f} ms ({cpu * 1e3:.0f} ms of the processor), "
            f"{memory:.0f} MB above the data"
        )
        spells = Spells.of(entry, end, failed)
        public = timed(lambda: fit_weibull(spells), 9)[2]  # noqa: B023
        print(f"  fit_weibull of these lives: {public / cpu:.2f} times its kernel (goal 2)")
        others = {"lifelines": lambda: lifelines_fit(entry, end, failed)}  # noqa: B023
        if not late:
            others["reliability"] = lambda: reliability_fit(end, failed)  # noqa: B023
        for name, run in others.items():
            (shape, scale), their_wall, their_cpu = timed(run, 2)
            print(
                f"  {name}: {their_wall:.2f} s, {their_wall / wall:.0f} times ours "
                f"(processor {their_cpu:.2f} s, {their_cpu / cpu:.0f} times); shape differs by "
                f"{shape / fit.shape - 1:+.1e}, scale by {scale / fit.scale_h - 1:+.1e}"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
