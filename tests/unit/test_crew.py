"""The same work gives the same results whoever does it, and a lost worker loses nothing."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from fleetstats.bands.resampling import refit as refit_module
from fleetstats.bands.resampling.refit import refit
from fleetstats.core import crew as crew_module
from fleetstats.core.crew import Crew, WorkerLost, at_work, crew_at_work, do_work, gather
from fleetstats.core.errors import SettingError
from fleetstats.core.seeds import stream
from fleetstats.spells import Spells


def draw(block: int) -> list[float]:
    return stream(7, "crew-test", block).standard_normal(5).tolist()


def refuse(n: int) -> int:
    if n == 2:
        raise SettingError("Task two does not like it.")
    return n


def die_once(task: tuple[int, str]) -> int:
    """Kill this worker at task 3, the first time that it is tried."""
    n, marker = task
    if n == 3 and not Path(marker).exists():
        Path(marker).write_text("died")
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.01)
    return n * n


def die_always(n: int) -> int:
    if n == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    return n


def gave_up(n: int) -> int:
    return -n


def test_local_processes_give_the_same_bits_as_this_one() -> None:
    assert gather(draw, range(9), Crew(workers=2)) == gather(draw, range(9))


def test_a_killed_local_worker_loses_nothing(tmp_path: Path) -> None:
    marker = str(tmp_path / "died")
    got = gather(die_once, [(n, marker) for n in range(8)], Crew(workers=2))
    assert Path(marker).exists()
    assert got == [n * n for n in range(8)]


def test_a_task_that_kills_its_workers_is_given_up_alone() -> None:
    assert dict(do_work(die_always, range(3), Crew(workers=2), on_lost=gave_up)) == {
        0: 0, 1: -1, 2: 2,
    }  # fmt: skip


def test_a_task_given_up_is_an_error_where_nothing_takes_its_place() -> None:
    with pytest.raises(WorkerLost, match="ended its worker 2 times"):
        crew_module._give_up(1, None)


@pytest.mark.parametrize("workers", [1, 2])
def test_what_a_task_raises_comes_out(workers: int) -> None:
    with pytest.raises(SettingError, match="Task two"):
        gather(refuse, range(4), Crew(workers=workers))
    assert multiprocessing.active_children() == []


def test_no_work_is_no_result() -> None:
    assert gather(draw, [], Crew(workers=2)) == []


@pytest.mark.parametrize("n", [0, -1, 257])
def test_an_impossible_number_of_workers_is_refused(n: int) -> None:
    with pytest.raises(SettingError, match=f"{n} workers"):
        Crew(workers=n)


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense://", "what"])
def test_no_scheduler_at_the_address_is_told(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed", reason="the extra 'scheduler' is not installed")
    monkeypatch.setattr(crew_module, "CONNECT_SECONDS", 1)
    with pytest.raises(SettingError, match="No scheduler answers at"):
        gather(draw, range(2), Crew(scheduler=address))
    # one left open closes when it is collected, in the midst of the next one's start
    from distributed import Client

    assert {x.status for x in gc.get_objects() if isinstance(x, Client)} <= {"closed"}


def test_a_missing_library_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(SettingError, match=r"Install fleetstats\[scheduler\]"):
        gather(draw, range(2), Crew(scheduler="tcp://127.0.0.1:9"))


SCHEDULER = """
import asyncio
from distributed import Scheduler, Worker

async def go():
    async with Scheduler(port=0, dashboard_address=":0", host="127.0.0.1") as s:
        async with Worker(s.address, nthreads=1):
            print(s.address, flush=True)
            await asyncio.sleep(300)

asyncio.run(go())
"""


def test_a_scheduler_that_dies_is_told_and_what_was_done_is_given(
    capfd: pytest.CaptureFixture[str],
) -> None:
    pytest.importorskip("distributed", reason="the extra 'scheduler' is not installed")
    there = subprocess.Popen(
        [sys.executable, "-c", SCHEDULER], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        text=True,
    )  # fmt: skip
    assert there.stdout is not None
    address = there.stdout.readline().strip()
    done = []
    try:
        work = do_work(time.sleep, [0.1] * 100, Crew(scheduler=address))
        done.append(next(work)[0])
        there.kill()
        with pytest.raises(WorkerLost, match=f"scheduler at '{address}' is gone"):
            done.extend(i for i, _ in work)
    finally:
        there.kill()
        there.wait()
        there.stdout.close()
    assert 1 <= len(done) < 100
    assert "Traceback" not in capfd.readouterr().err


def test_who_is_at_work_does_what_is_called_within_and_no_more() -> None:
    assert crew_at_work() == Crew()
    with at_work(Crew(workers=3)):
        assert crew_at_work() == Crew(workers=3)
        with at_work(None):
            assert crew_at_work() == Crew(workers=3)
        with at_work(Crew()):
            assert crew_at_work().alone
        # a worker asks nobody in turn
        assert gather(asked_by, [0, 1], Crew(workers=2)) == [True, True]
    assert crew_at_work() == Crew()


def asked_by(_n: int) -> bool:
    return crew_at_work().alone


@pytest.mark.parametrize("rows", [(10, False), (60, True)])
def test_long_resamples_are_shared_by_whoever_is_at_work(
    rows: tuple[int, bool], monkeypatch: pytest.MonkeyPatch
) -> None:
    n, shared = rows
    asked: list[Crew | None] = []

    def note(function, tasks, crew=None):  # type: ignore[no-untyped-def]
        asked.append(crew)
        return [function(t) for t in tasks]

    life = 900.0 * np.random.default_rng(5).weibull(2.0, n)
    lives = Spells.of(np.zeros(n), life, np.ones(n))
    alone = refit(lives, 40, seed=3)
    monkeypatch.setattr(refit_module, "gather", note)
    monkeypatch.setattr(refit_module, "WORTH_SHARING", 40 * 50)
    with at_work(Crew(workers=2)):
        assert refit(lives, 40, seed=3) == alone
    assert asked == [Crew(workers=2) if shared else None]
