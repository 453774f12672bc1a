"""A real scheduler with real workers: the same bits as here, and a killed worker loses nothing.

One cluster of two processes serves all tests of this file.
"""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from calibration import run_study
from portfolio_tables import family_lines, write_table
from test_patterns import cut
from trial_fleets import Cell

from fleetstats.bands.resampling.refit import refit
from fleetstats.core import crew as crew_module
from fleetstats.core.crew import Crew, WorkerLost, gather
from fleetstats.core.errors import SettingError
from fleetstats.core.seeds import stream
from fleetstats.portfolio.ranking import run_portfolio
from fleetstats.records.split_families import read_portfolio
from fleetstats.spells import Spells
from fleetstats.studies.by_chunks import lives_by_chunks
from fleetstats.study.study import read_study


def draw(block: int) -> list[float]:
    return stream(7, "scheduler-test", block).standard_normal(5).tolist()


def die_always(n: int) -> int:
    if n == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    return n


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    distributed = pytest.importorskip(
        "distributed", reason="the extra 'scheduler' is not installed"
    )
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0",
        silence_logs=50,
    ) as running:  # fmt: skip
        yield running


@pytest.fixture
def crew(cluster: Any) -> Crew:
    return Crew(scheduler=cluster.scheduler_address)


def test_the_scheduler_gives_the_same_bits(crew: Crew) -> None:
    assert gather(draw, range(9), crew) == gather(draw, range(9))
    assert gather(draw, [], crew) == []


def test_refits_are_the_same_to_the_bit_there(crew: Crew) -> None:
    rng = np.random.default_rng(5)
    life = 2500.0 * rng.weibull(2.0, 120)
    stop = np.linspace(50.0, 1450.0, 120)
    lives = Spells.of(np.zeros(120), np.minimum(life, stop), life <= stop)
    # more than one group of draws that are solved together
    assert refit(lives, 9000, seed=3, crew=crew) == refit(lives, 9000, seed=3)


def test_the_calibration_study_is_the_same_to_the_bit_there(crew: Crew) -> None:
    cells = [Cell(shape=b, n=50, late=False, expected=4.0) for b in (1.0, 2.0, 5.0)]
    here = run_study(40, cells=cells, resampled_fleets=0)
    assert run_study(40, cells=cells, resampled_fleets=0, crew=crew) == here


def test_a_worker_killed_mid_run_loses_no_family(cluster: Any, crew: Crew, tmp_path: Path) -> None:
    """One of the two workers is killed from outside as soon as the first family is done."""
    lines = [x for k in range(14) for x in family_lines(f"p{k}", 30, seed=k)]
    families = read_portfolio(write_table(tmp_path, lines))
    victims = [w.pid for w in cluster.workers.values()]
    killed: list[int] = []

    def told(n: int) -> None:
        if n == 1:
            killed.append(victims[0])
            os.kill(victims[0], signal.SIGKILL)

    there = run_portfolio(families, crew=crew, told=told)
    assert killed
    assert all(r.row.done for r in there.ranked)
    assert there == run_portfolio(families)


def test_a_scheduler_that_loses_its_workers_is_not_waited_for(
    cluster: Any, crew: Crew, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(crew_module, "LOOK_SECONDS", 1)
    monkeypatch.setattr(crew_module, "PATIENCE_SECONDS", 2)
    with cluster.get_client() as client:
        monkeypatch.setattr(client, "nthreads", dict)
        future = client.submit(time.sleep, 6, pure=False)
        with pytest.raises(WorkerLost, match="no worker for 2 seconds"):
            crew_module._next_done(client, {future: 0})
        future.cancel()


@pytest.mark.slow
def test_a_task_that_kills_every_worker_is_given_up_alone(crew: Crew) -> None:
    got = dict(crew_module.do_work(die_always, range(3), crew, on_lost=lambda n: -n))
    assert got == {0: 0, 1: -1, 2: 2}


def test_workers_of_another_version_are_refused(
    crew: Crew, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(crew_module, "installed_versions", lambda: {"numpy": "0.1"})
    with pytest.raises(SettingError, match=r"numpy .*, here 0\.1"):
        gather(draw, range(2), crew)


def test_the_files_of_a_long_table_are_read_there_to_the_same_digits(
    crew: Crew, tmp_path: Path
) -> None:
    folder = cut(tmp_path, [30, 55], ["r-1.csv", "r-2.csv", "r-3.csv"], file="r-*.csv")
    study = read_study(folder)
    here, there = (lives_by_chunks(study, crew=c) for c in (None, crew))
    assert here[0] == there[0]
    assert here[1] == there[1]
    assert here[2] == there[2]
    assert here[4].labelled == there[4].labelled
