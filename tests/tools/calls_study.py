"""How right the expectations of a list of calls are: made fleets whose truth is then revealed.

    python tests/tools/calls_study.py [FLEETS]

For each truth it prints the bound today, the bound expected after twenty calls and the one really
found, the chance of bad news that was told and how often it came, means over the fleets.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from fleetstats.core.seeds import stream
from tests.stale_fleets import reveal, write_stale_fleet

TRUTHS = {
    "wear, 20 % by 1,200 h": (160, 0.20, 2.5),
    "wear, 5 % by 1,200 h": (160, 0.05, 2.5),
    "constant, 20 % by 1,200 h": (160, 0.20, 1.0),
    "rare, 1 % by 1,200 h": (160, 0.01, 1.5),
}
"""Engines, the share that fails by 1,200 h, and the shape."""


def main(fleets: int) -> None:
    """Print one line for each truth."""
    print(f"{fleets} fleets each, readings up to 6 years old, 20 calls")
    for name, (engines, chance, shape) in TRUTHS.items():
        rows = []
        for k in range(fleets):
            rng = stream(7, f"calls {name}", k)
            with tempfile.TemporaryDirectory() as at:
                truth = write_stale_fleet(Path(at), rng, engines=engines, chance=chance,
                                          shape=shape, most_years=6.0)  # fmt: skip
                calls, told, failed = reveal(Path(at), truth, 20)
            t = calls.together
            assert t is not None
            rows.append((calls.high_now, t.expected, told, t.chance_bad, failed > 0, failed,
                         sum(c.chance_bad for c in calls.calls[:20])))  # fmt: skip
        x = np.array(rows, dtype=float)
        now, expected, told, bad, came, n, n_expected = x.mean(axis=0)
        off = x[:, 2] - x[:, 1]
        error = off.std(ddof=1) / np.sqrt(len(off))
        print(
            f"{name:28s} today {now:.4f} expected {expected:.4f} found {told:.4f} "
            f"(off {off.mean():+.4f}, se {error:.4f}); bad news told {bad:.3f}, came {came:.3f}; "
            f"failures expected {n_expected:.2f}, came {n:.2f}"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
