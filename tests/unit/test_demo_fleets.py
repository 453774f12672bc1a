"""The demo's files: made again from their seed, and holding what their README says."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from fleetstats.core.errors import ReportError
from fleetstats.demo.fleets import quiet_files, tow_files, write_demo
from fleetstats.demo.truth import life, reliability

DATASETS = Path(__file__).parents[2] / "datasets"


@pytest.mark.parametrize(
    ("name", "files"), [("tow-clubs", tow_files), ("quiet-fleet", quiet_files)]
)
def test_committed_files_are_those_of_the_seed(name: str, files) -> None:
    for file, text in files().items():
        assert (DATASETS / name / file).read_text(encoding="utf-8") == text


def test_quiet_fleet_is_as_it_says() -> None:
    rows = list(csv.DictReader(quiet_files()["fleet.csv"].splitlines()))
    hours = [float(r["exit_hours"]) for r in rows]
    assert len(rows) == 260
    assert {r["ending"] for r in rows} == {"running"}
    assert max(hours) > 1500


def test_truth_is_consistent() -> None:
    # two Weibull lives mixed 60:40; by hand at 1,200 h:
    # 0.6 exp(-(1200/2800)^2.6) + 0.4 exp(-(1200/2350)^2.6) = 0.6 * 0.89541 + 0.4 * 0.84011
    assert reliability(1200.0) == pytest.approx(0.87328, abs=2e-5)
    assert 1 - reliability(life(0.1)) == pytest.approx(0.1, abs=1e-9)


def test_a_file_in_the_way_is_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "north.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(ReportError, match=r"north\.csv is in the way"):
        write_demo(tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["north.csv"]
