"""Every task beside lifelines, reliability, scipy, statsmodels and R's survival, in one run.

Run by hand: ``python tests/bench/bench_beside.py [ROW …] [--small] [--page FILE] [--keep FILE]``.
Prints ratios of processor time, those in which we are behind first, and ends with an error where
two answers do not agree. Rows are named in `beside.fits`, `beside.counting` and `beside.models`;
none named means all. ``--small`` divides the sizes by 50, to try the rows; ``--page`` writes the
table as the page `reports/docs/speed.md`, which no other hand writes. ``--keep`` keeps the rows of
each task in a file and takes those that it holds already, so that a run that was broken off can go
on; the page says so.
"""

from __future__ import annotations

import importlib.metadata
import logging
import os
import sys
from dataclasses import replace
from pathlib import Path

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ[_name] = "1"  # one thread on each side, before numpy is loaded

from beside.contest import Contest, contend  # noqa: E402
from beside.counting import COUNTING_ROWS  # noqa: E402
from beside.fits import FIT_ROWS  # noqa: E402
from beside.in_r import has_r, session  # noqa: E402
from beside.models import MODEL_ROWS  # noqa: E402
from beside.table import page, printed, read_rows, write_rows  # noqa: E402

ROWS: tuple[Contest, ...] = (*FIT_ROWS, *COUNTING_ROWS, *MODEL_ROWS)


def versions(*, r: bool) -> dict[str, str]:
    """Return the versions of the libraries beside us."""
    names = ("numpy", "scipy", "lifelines", "reliability", "statsmodels")
    out = {n: importlib.metadata.version(n) for n in names}
    if r:
        out["R"], out["R survival"] = session().tell(
            "cat(paste0(R.version$major, '.', R.version$minor), '\\n'); "
            "cat(as.character(packageVersion('survival')), '\\n')"
        )[:2]
    return out


def _file(arguments: list[str], option: str) -> Path | None:
    """Take an option and its file out of the arguments."""
    if option not in arguments:
        return None
    at = arguments.index(option)
    name = arguments[at + 1]
    del arguments[at : at + 2]
    return Path(name)


def tell(text: str) -> None:
    """Say how far the run is, beside the table."""
    print(text, file=sys.stderr, flush=True)


def main(arguments: list[str]) -> None:
    """Measure the rows asked for and print the table."""
    logging.disable(logging.CRITICAL)
    out, keep = (_file(arguments, option) for option in ("--page", "--keep"))
    small = "--small" in arguments
    arguments = [a for a in arguments if a != "--small"]
    r = has_r()
    chosen = [c for c in ROWS if not arguments or c.key in arguments]
    held = read_rows(keep) if keep is not None and keep.exists() else []
    rows = list(held)
    for contest in chosen:
        others = tuple(
            t for t in contest.theirs
            if (r or not t.own_clock) and (contest.key, t.who) not in {(x.key, x.who) for x in held}
        )  # fmt: skip
        size = max(contest.size // 50, contest.smallest) if small else contest.size
        rows += contend(replace(contest, theirs=others, size=size), tell) if others else []
        if keep is not None:
            write_rows(keep, rows)
    print(printed(rows))
    if out is not None:
        out.write_text(page(rows, chosen, versions(r=r), kept=bool(held)), encoding="utf-8")
    if r:
        session().close()


if __name__ == "__main__":
    main(sys.argv[1:])
