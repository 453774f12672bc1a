"""The bands of the demo study hold the truth from which its fleet was drawn.

The truth is stated in `fleetstats/demo/truth.py` and never seen by the study; the records went
through planted mistakes, two clocks, late entry and faults found at checks on the way.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from fleetstats.bands.choose import band
from fleetstats.bands.quantity import Quantity
from fleetstats.demo import truth
from fleetstats.demo.fleets import write_demo
from fleetstats.spells.spells import Spells
from fleetstats.studies.analyse import lives_of
from fleetstats.studies.main_results import fit_or_reason
from fleetstats.study.study import read_study
from fleetstats.survival.fit import Fit


@pytest.fixture(scope="module")
def tow(tmp_path_factory: pytest.TempPathFactory) -> tuple[Spells, Fit]:
    folder: Path = write_demo(tmp_path_factory.mktemp("demo") / "tow-clubs")
    spells = lives_of(read_study(folder)).spells
    fit, _ = fit_or_reason(spells)
    assert fit is not None
    return spells, fit


@pytest.mark.parametrize(
    ("quantity", "true"),
    [
        (Quantity.shape(), truth.LIFE_SHAPE),
        (Quantity.life(0.10), truth.life(0.10)),
        (Quantity.life(0.05), truth.life(0.05)),
        (Quantity.reliability(600.0), truth.reliability(600.0)),
        (Quantity.reliability(1200.0), truth.reliability(1200.0)),
        (
            Quantity.conditional(1200.0, 50.0),
            1.0 - truth.reliability(1250.0) / truth.reliability(1200.0),
        ),
    ],
    ids=lambda x: x.name if isinstance(x, Quantity) else "",
)
def test_band_holds_the_truth(tow: tuple[Spells, Fit], quantity: Quantity, true: float) -> None:
    spells, fit = tow
    found = band(spells, fit, quantity, level=0.90, seed=truth.SEED)
    assert found.low is not None
    assert found.high is not None
    assert found.low < true < found.high
    # and says something: an edge-to-edge ratio of 3 would be no answer from 27 failures
    assert found.high / found.low < 3.0


def test_ignoring_late_entry_would_look_too_good(tow: tuple[Spells, Fit]) -> None:
    spells, fit = tow
    naive, _ = fit_or_reason(spells.replace(entry=0.0 * spells.entry))
    assert naive is not None
    assert naive.reliability(1200.0) > fit.reliability(1200.0)
