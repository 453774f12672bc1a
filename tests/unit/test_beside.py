"""Work beside gives what work here gives, whatever becomes of the other process."""

from __future__ import annotations

import inspect
import json
import multiprocessing
import os
import pickle
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from report_document import make_document

from fleetstats.chapters.registry import CHAPTERS, work_order
from fleetstats.core import beside as beside_module
from fleetstats.core.beside import Beside, Shared, count_processors
from fleetstats.core.errors import NoMaximum
from fleetstats.report.write import render_files
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study


def who(n: int) -> tuple[int, int]:
    time.sleep(0.05)
    return n * n, os.getpid()


def refuse(n: int) -> int:
    raise NoMaximum(f"No maximum for {n}.", reason="no-failures")


def die_elsewhere(here: int) -> str:
    """End the process unless it is the one that asks."""
    if os.getpid() != here:
        os.kill(os.getpid(), signal.SIGKILL)
    return "done here"


def sleep_long(seconds: float) -> None:
    time.sleep(seconds)


class CannotBeSent(list[int]):
    """A list that is no use but where it is."""

    def __reduce__(self) -> tuple[object, ...]:
        raise TypeError("was sent")


def set_paper() -> int:
    """Set one page, by a library that works with threads of its own; return its bytes."""
    import typst

    return len(typst.compile(b"a page"))


def look_at(shared: Shared[list[int]]) -> tuple[int, int]:
    time.sleep(0.3)
    return shared.value[0], os.getpid()


def is_alive(group: int) -> bool:
    """Return whether a group of processes has a member."""
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True


def test_both_processes_share_the_tasks_and_keep_their_order() -> None:
    with Beside(wanted=True) as beside:
        assert beside.ask(who, 3).take()[0] == 9
        asked = [beside.ask(who, n) for n in reversed(range(12))][::-1]
        got = [a.take() for a in asked]  # from the front here, from the back beside
    assert [g[0] for g in got] == [n * n for n in range(12)]
    hands = [g[1] for g in got]
    assert len(set(hands)) == 2
    assert hands[0] == os.getpid() != hands[-1]
    assert not multiprocessing.active_children()


def test_alone_all_is_done_here() -> None:
    with Beside(wanted=False) as beside:
        assert {beside.ask(who, n).take() for n in range(3)} == {
            (n * n, os.getpid()) for n in range(3)
        }
        beside.begin(count_processors)


def test_an_error_keeps_all_that_it_says() -> None:
    # exceptions with arguments by keyword do not survive the way between processes by themselves
    with Beside(wanted=True) as beside:
        later = beside.ask(refuse, 5)
        time.sleep(0.1)
        with pytest.raises(NoMaximum, match="No maximum for 5") as raised:
            later.take()
    assert raised.value.reason == "no-failures"


def test_a_process_that_dies_costs_nothing_but_time() -> None:
    with Beside(wanted=True) as beside:
        first = beside.ask(die_elsewhere, os.getpid())
        rest = [beside.ask(who, n) for n in range(3)]
        assert first.take() == "done here"
        assert [r.take() for r in rest] == [(n * n, os.getpid()) for n in range(3)]
        assert beside.ask(who, 2).take() == (4, os.getpid())


def test_no_work_waits_for_the_other_process_that_could_be_done_here() -> None:
    with Beside(wanted=True) as beside:
        assert beside.ask(who, 1).take()[1] != os.getpid()  # it has started
        long = beside.ask(sleep_long, 1.0)
        following = [beside.ask(who, n) for n in range(3)]
        assert [r.take() for r in following] == [(n * n, os.getpid()) for n in range(3)]
        assert long.take() is None
        assert beside.ask(who, 4).take()[0] == 16


def test_where_no_process_can_be_started_all_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_args: object, **_more: object) -> None:
        raise OSError("no semaphores here")

    monkeypatch.setattr(beside_module, "ProcessPoolExecutor", none)
    with Beside(wanted=True) as beside:
        assert beside.ask(who, 2).take() == (4, os.getpid())


def test_an_error_here_ends_the_other_process_at_once() -> None:
    def interrupted() -> None:
        with Beside(wanted=True) as beside:
            assert beside.ask(who, 1).take()[0] == 1
            assert beside.ask(sleep_long, 600.0).future is not None
            time.sleep(0.2)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert not multiprocessing.active_children()


def test_a_report_drawn_by_two_is_the_same_to_the_byte() -> None:
    with Beside(wanted=True) as beside:
        assert render_files(make_document(), None, beside) == render_files(make_document(), None)


def test_a_study_analysed_by_two_is_the_same_to_the_digit_and_in_the_same_order() -> None:
    study = read_study(Path(__file__).parents[2] / "datasets" / "workshop")
    with Beside(wanted=True) as beside:
        shared = analyse(study, beside=beside)
    alone = analyse(study)
    assert list(shared.chapters) == list(alone.chapters) == [k for k in work_order(CHAPTERS) if k in
                                                            alone.chapters]  # fmt: skip
    assert {"effects", "tabulated", "causes", "routes"} <= set(alone.chapters)
    assert shared.opinions
    assert json.dumps(shared.to_dict(), sort_keys=True) == json.dumps(
        alone.to_dict(), sort_keys=True
    )


def test_the_chapters_worked_out_apart_ask_no_other_than_they_need() -> None:
    # what another chapter reads has to be there when that one is worked out
    apart = {k: c for k, c in CHAPTERS.items() if c.apart}
    assert len(apart) == 13
    for chapter in apart.values():
        assert chapter.compute is not None
        named = list(inspect.signature(chapter.compute).parameters)[1]
        assert named == ("done" if chapter.needs else "_done")
        assert not any(CHAPTERS[n].apart or CHAPTERS[n].last for n in chapter.needs)
    # what needs one of them is worked out here, after all of them
    after = {k: c for k, c in CHAPTERS.items() if set(c.needs) & set(apart)}
    assert list(after) == ["stop-chance"]
    assert not any(c.apart or c.opinions or c.last for c in after.values())
    assert not any(set(c.needs) & set(after) for c in CHAPTERS.values())


def test_what_several_pieces_of_work_are_given_is_packed_and_unpacked_once() -> None:
    shared = Shared([1, 2])
    one, two = (pickle.loads(pickle.dumps(("work", shared)))[1] for _ in range(2))
    assert one is two
    assert one.value == [1, 2]
    assert one.value is not shared.value
    other = pickle.loads(pickle.dumps(Shared([3])))
    assert other.value == [3]


def share_two(values: list[list[int]]) -> list[tuple[bool, bool]]:
    """Return whether the other process held each value, and whether it was one of its own."""
    out = []
    with Beside(wanted=True) as beside:
        for value in values:
            shared = beside.share(value)
            later = beside.ask(look_at, shared)
            time.sleep(0.2)  # what is not begun when it is taken is done here
            there, pid = later.take()
            assert there == value[0]
            out.append((beside.shares, pid != os.getpid()))
    assert not multiprocessing.active_children()
    return out


@pytest.mark.skipif(sys.platform != "linux", reason="no process is split elsewhere")
def test_what_is_shared_is_at_hand_over_there_without_being_sent() -> None:
    # in a process of its own: in this one earlier tests may have begun threads
    code = "import test_beside as t; print(t.share_two([t.CannotBeSent([3]), t.CannotBeSent([4])]))"
    path = os.pathsep.join(str(Path(__file__).parent.parent / p) for p in ("unit", "."))
    done = subprocess.run(
        [sys.executable, "-c", code], env=os.environ | {"PYTHONPATH": path}, text=True,
        capture_output=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.stdout.strip() == str([(True, True)] * 2), done.stderr


def test_what_is_shared_is_sent_where_no_process_is_split(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(beside_module, "can_split", lambda: False)
    assert share_two([[3], [4]]) == [(False, True)] * 2


def test_no_process_is_split_off_one_with_threads_that_only_a_library_knows() -> None:
    assert set_paper() > 500
    assert not beside_module.can_split()
    with Beside(wanted=True) as beside:
        later = beside.ask(set_paper)
        assert later.future is not None
        assert later.future.result(timeout=60) == set_paper()


def test_what_is_in_hand_is_not_lost_when_something_is_shared() -> None:
    with Beside(wanted=True) as beside:
        long = beside.ask(who, 7)
        shared = beside.share([5])  # too late for the process at work: it is sent
        assert beside.ask(look_at, shared).take()[0] == 5
        assert long.take()[0] == 49
        assert long.future is not None


@pytest.mark.skipif(
    count_processors() < 2 or not Path("/proc/self/task").is_dir(),
    reason="needs a second processor, and the system's list of children",
)
def test_a_real_interrupt_of_a_study_leaves_nothing_behind(tmp_path: Path) -> None:
    study = Path(__file__).parents[2] / "datasets" / "quiet-fleet"
    process = subprocess.Popen(
        [sys.executable, "-c", "from fleetstats.cli import main; main()", "study", str(study),
         "--out", str(tmp_path / "out")],
        stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    while not children.read_text().split():
        assert process.poll() is None
        time.sleep(0.001)
    os.killpg(process.pid, signal.SIGINT)  # the other is only starting: it must keep quiet too
    said, errors = process.communicate(timeout=60)
    assert process.returncode != 0
    assert said == ""
    assert "Traceback" not in errors
    assert not list(tmp_path.iterdir())
    deadline = time.monotonic() + 20
    while is_alive(process.pid):
        assert time.monotonic() < deadline
        time.sleep(0.05)


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="needs the list of children")
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_a_child_ends_with_its_parent(how: signal.Signals, tmp_path: Path) -> None:
    """A killed parent tells its child nothing: the child sees that it is gone."""
    mark = tmp_path / "child"
    code = """
import os, sys, time
from pathlib import Path
from fleetstats.core.beside import Beside

def note_and_sleep(mark):
    Path(mark).write_text(f"{os.getpid()};")
    time.sleep(300)

if __name__ == "__main__":
    with Beside(wanted=True) as beside:
        beside.ask(note_and_sleep, sys.argv[1])
        time.sleep(300)
"""
    script = tmp_path / "parent.py"
    script.write_text(code)
    parent = subprocess.Popen([sys.executable, str(script), str(mark)])
    end = time.monotonic() + 60
    while not mark.is_file() or not mark.read_text().endswith(";"):
        assert time.monotonic() < end
        time.sleep(0.05)
    child = int(mark.read_text()[:-1])
    parent.send_signal(how)
    parent.wait(timeout=20)
    end = time.monotonic() + 20
    while _runs(child):
        assert time.monotonic() < end, "the child goes on for nobody"
        time.sleep(0.05)


def _runs(pid: int) -> bool:
    """Return whether a process runs; one that ended and that nobody asks after does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False
