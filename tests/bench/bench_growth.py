"""How the cost of each stage of a study grows with its lives: processor time, memory, exponent.

Run by hand, `OMP_NUM_THREADS=1` set so that no library waits in threads::

    python tests/bench/bench_growth.py 250 1000 5000 20000 --keep growth.json --picture growth.svg

Each size is a study of its own process, read whole up to `WHOLE_TO` lives and by chunks above.
What is kept is added to, so that sizes may be measured one by one; without a size the kept ones are
printed. Nothing is asserted by a clock. Made-up records with no source: `bench_costs.made_rows`,
lives of a Weibull law with late entries, a part of the failures found at checks, causes, two
builds, two sources and dates.
"""

from __future__ import annotations

import argparse
import json
import math
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from bench_costs import write_made_study

WHOLE_TO = 100_000
FROM = 5_000
"""Lives from which on the exponent is taken."""

MOST = 1.15
"""Exponent above which a stage is marked."""

SHOWN_S = 0.1
"""Seconds at the largest size below which a stage is summed under 'all other stages'."""

RENDERED = {
    "write_shared": "results.json", "draw_figures": "figures", "set_papers": "papers",
    "rasterise": "pictures", "trace_shared": "lineage", "_put_pieces": "page and report.json",
    "all_csv": "tables", "check_files": "checker", "tables_xlsx": "workbook",
}  # fmt: skip
"""Parts of writing a report that are measured by themselves, by function, and their names."""

Measured = dict[str, tuple[float, float]]
"""Seconds of one processor, and the most memory so far in MB, by stage."""


class Clock:
    """Stages as they begin, and what each took."""

    def __init__(self) -> None:
        self.took: Measured = {}
        self._name, self._since = "imports", time.process_time()

    def stage(self, name: str) -> None:
        """Begin a stage, and note what the one before took."""
        now = time.process_time()
        self.add(self._name, now - self._since)
        # how long it may take, and how far it is, are no other stage
        self._name, self._since = re.sub(r" \(.*|: [\d,]+ rows$", "", name), now

    def add(self, name: str, seconds: float) -> None:
        """Add seconds to a stage."""
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        self.took[name] = (self.took.get(name, (0.0, 0.0))[0] + seconds, most)

    def part(self, make: Callable[..., Any], name: str) -> Callable[..., Any]:
        """Return a function of a stage that is measured by itself."""

        def timed(*given: Any, **named: Any) -> Any:
            since = time.process_time()
            out = make(*given, **named)
            took = time.process_time() - since
            self._since += took
            self.add(f"report: {name}", took)
            return out

        return timed


def measure(n: int) -> Measured:
    """Return what each stage of a study of `n` made-up lives takes in this process."""
    from fleetstats.chapters.compose import compose_checked
    from fleetstats.core.pause import collect_seldom
    from fleetstats.report import write
    from fleetstats.studies.analyse import analyse
    from fleetstats.study.study import read_study

    with tempfile.TemporaryDirectory() as place:
        by_chunks = n > WHOLE_TO
        write_made_study(Path(place), n, one_file=by_chunks)
        collect_seldom()  # as the verb does
        clock = Clock()
        for function, name in RENDERED.items():
            setattr(write, function, clock.part(getattr(write, function), name))
        results = analyse(read_study(Path(place)), by_chunks, stage=clock.stage)
        clock.stage("composing the report")
        results, document = compose_checked(results)
        clock.stage("report: all else")
        write.render_files(document, results)
        clock.stage("")
    clock.took["all stages"] = (
        sum(s for s, _ in clock.took.values()),
        max(m for _, m in clock.took.values()),
    )
    return clock.took


def exponent(cost: Mapping[int, float]) -> float | None:
    """Return the power of the lives that a cost grows with from `FROM` on; None where unknown.

    The slope of a straight line through the logs, by least squares.
    """
    points = [(math.log(n), math.log(c)) for n, c in cost.items() if n >= FROM and c > 0.0]
    if len(points) < 2:
        return None
    x0, y0 = (sum(p[k] for p in points) / len(points) for k in (0, 1))
    return sum((x - x0) * (y - y0) for x, y in points) / sum((x - x0) ** 2 for x, _ in points)


def show(sizes: Mapping[int, Measured]) -> None:
    """Print a line to a stage: seconds at each size, memory at the largest, both exponents."""
    at = sorted(sizes)
    heads = "".join(f"{n:>11,}" for n in at)
    print(f"{'seconds of one processor':44}{heads}{'MB':>8}{'exponent':>10}{'of memory':>11}")
    for name in _shown(sizes):
        cost = {n: sizes[n][name][0] for n in at if name in sizes[n]}
        # too little to be timed says nothing of how it grows
        power = exponent({n: s for n, s in cost.items() if n <= WHOLE_TO and s >= SHOWN_S / 5})
        room = {n: sizes[n][name][1] for n in cost}
        line = "".join(f"{cost[n]:11.2f}" if n in cost else f"{'-':>11}" for n in at)
        more = exponent({n: m for n, m in room.items() if n <= WHOLE_TO})
        told = ["" if p is None else f"{p:.2f}" for p in (power, more)]
        over = "  above" if power is not None and power > MOST and max(cost.values()) > 0.5 else ""
        print(f"{name[:44]:44}{line}{max(room.values()):8,.0f}{told[0]:>10}{told[1]:>11}{over}")


def _shown(sizes: Mapping[int, Measured]) -> list[str]:
    """Return the stages that take long at any size, in the order of the work."""
    names = dict.fromkeys(name for n in sorted(sizes) for name in sizes[n])
    most = {k: max(m[k][0] for m in sizes.values() if k in m) for k in names}
    return [k for k in names if most[k] >= SHOWN_S]


def draw(sizes: Mapping[int, Measured], target: Path) -> None:
    """Write a picture: seconds against lives, both by their logs, the longest stages named.

    Sizes read whole are joined by lines, those read by chunks by broken ones: other work is done.
    """
    import matplotlib as mpl

    mpl.use("Agg")
    import matplotlib.pyplot as plt

    at = sorted(sizes)
    longest = {k: max(m[k][0] for m in sizes.values() if k in m) for k in _shown(sizes)}
    fig, ax = plt.subplots(figsize=(10.0, 6.0), layout="constrained")
    looks = [(c, mark) for mark in "osv" for c in plt.get_cmap("tab10").colors]
    for name, (colour, mark) in zip(sorted(longest, key=longest.__getitem__)[::-1][:15], looks,
                                    strict=False):  # fmt: skip
        for chunks in (False, True):
            points = [(n, m[name][0]) for n in at if (n > WHOLE_TO) is chunks
                      if name in (m := sizes[n]) and m[name][0] > 0]  # fmt: skip
            if points:
                ax.plot(*zip(*points, strict=True), color=colour, marker=mark, ms=4,
                        ls="--" if chunks else "-", lw=2.5 if name == "all stages" else 1.2,
                        label=None if chunks and at[0] <= WHOLE_TO else name)  # fmt: skip
    if at[0] <= WHOLE_TO < at[-1]:
        ax.axvline(1.5 * WHOLE_TO, color="0.5", lw=1)
        ax.annotate("read whole | by chunks", (1.5 * WHOLE_TO, 1.0), ha="center", va="bottom",
                    xycoords=("data", "axes fraction"), fontsize=8)  # fmt: skip
    x = [n for n in at if FROM <= n <= WHOLE_TO]
    if len(x) > 1:
        top = max(sizes[x[0]]["all stages"][0], 1e-3)
        ax.plot([x[0], x[-1]], [top, top * (x[-1] / x[0]) ** MOST], color="0.5", lw=1, ls=":",
                label=f"growth with exponent {MOST}")  # fmt: skip
    ax.set(xscale="log", yscale="log", xlabel="lives", ylabel="seconds of one processor")
    fig.legend(loc="outside right upper", fontsize=8)
    ax.grid(visible=True, which="both", lw=0.3)
    fig.savefig(target)
    plt.close(fig)


def main() -> None:
    """Measure the sizes asked for, print the table, and draw it where that is asked."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("lives", type=int, nargs="*")
    asked.add_argument("--keep", type=Path, help="where what is measured is kept")
    asked.add_argument("--picture", type=Path)
    asked.add_argument("--here", action="store_true", help="one size in this process, as JSON")
    said = asked.parse_args()
    if said.here:
        print(json.dumps(measure(said.lives[0])))
        return
    kept = json.loads(said.keep.read_text("utf-8")) if said.keep and said.keep.exists() else {}
    sizes: dict[int, Measured] = {int(n): m for n, m in kept.items()}
    for n in said.lives:
        done = subprocess.run(
            [sys.executable, __file__, str(n), "--here"], check=True, stdout=subprocess.PIPE
        )
        sizes[n] = json.loads(done.stdout)
        print(f"{n:,} lives: {sizes[n]['all stages'][0]:.1f} s", flush=True)
        if said.keep:
            said.keep.write_text(json.dumps(sizes, indent=1), "utf-8")
    if sizes:
        show(sizes)
    if sizes and said.picture:
        draw(sizes, said.picture)


if __name__ == "__main__":
    main()
