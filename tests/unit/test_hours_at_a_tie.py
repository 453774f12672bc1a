"""Hours that end on a half are written alike wherever they stand, in whatever order they are added.

Meters are read to 0.1 h, so one total in ten ends on .5; its sum by bands of age differs from that
over lives in the last bit, and was printed as another whole number.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from fleetstats.chapters.compose import compose_checked
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study


@pytest.mark.parametrize("seed", [4, 5, 6])
def test_a_total_on_a_half_is_one_number(seed: int, tmp_path: Path) -> None:
    rng = np.random.default_rng(seed)
    tenths = rng.integers(3000, 17000, 150)
    tenths[-1] += (5 - tenths.sum()) % 10
    rows = [f"E-{i},{t / 10:.1f},running" for i, t in enumerate(tenths.tolist())]
    (tmp_path / "lives.csv").write_text("\n".join(["engine,exit_hours,ending", *rows]) + "\n")
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "t"\nanalysis_date = 2026-10-01\nclaimed_interval_h = 1000\n'
        '[[records]]\nfile = "lives.csv"\n'
    )
    results, _ = compose_checked(analyse(read_study(tmp_path)))
    assert results.spells.exposure_h % 1.0 == pytest.approx(0.5)
    assert "figures-disagree" not in {c.code for c in results.advice.cautions}
