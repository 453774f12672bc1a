"""A call in a process of its own: its result, or in words why there is none; nothing is left."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from fence_work import die, double, fill, hog, litter, refuse, sleep, spin, stumble
from hostile_bundles import bundle

from fleetstats.core.errors import ReportError
from fleetstats.core.fenced import Fence, FenceReached, Refused, call_fenced
from fleetstats.core.limits import most
from fleetstats.report.bundle import guarded
from fleetstats.report.bundle.guarded import fence_of_verify, verify_guarded

SMALL = Fence(memory_bytes=600 * 2**20, seconds=20, file_bytes=2**20)
unix = pytest.mark.skipif(os.name != "posix", reason="limits of processes are those of Unix")


def test_a_call_gives_what_it_gives_here_and_its_folder_goes() -> None:
    assert call_fenced(double, 4, fence=SMALL, named={"plus": 1}).result == 9
    place = call_fenced(litter, fence=SMALL, named={}).result
    assert "fleetstats-" in place
    assert not Path(place).exists()


@unix
@pytest.mark.parametrize(
    ("work", "why", "said"),
    [
        (hog, "memory", ""), (spin, "time", ""), (sleep, "time", ""), (die, "ended", ""),
        (stumble, "error", "KeyError, fence_work.py:"), (fill, "error", "OSError, "),
    ],
    ids=lambda x: getattr(x, "__name__", None),
)  # fmt: skip
def test_a_limit_is_told_and_this_process_goes_on(work, why: str, said: str) -> None:  # type: ignore[no-untyped-def]
    fence = Fence(memory_bytes=SMALL.memory_bytes, file_bytes=2**20, seconds=20)
    if why == "time":
        fence = Fence(memory_bytes=SMALL.memory_bytes, file_bytes=2**20, seconds=2)
    began = time.monotonic()
    with pytest.raises(FenceReached) as e:
        call_fenced(work, fence=fence, named={})
    assert e.value.why == why
    assert e.value.message.startswith(said)
    assert time.monotonic() - began < 20


def test_an_error_of_ours_keeps_its_words() -> None:
    with pytest.raises(Refused) as e:
        call_fenced(refuse, fence=SMALL, named={})
    assert (e.value.message, e.value.hint) == ("No maximum.", "Add lives.")


@unix
def test_the_other_process_ends_with_this_one(tmp_path: Path) -> None:
    """The process that waits is killed outright, so that it can tidy up nothing itself."""
    (tmp_path / "waits.py").write_text(
        "import os, pathlib, time\n"
        "from fleetstats.core.fenced import Fence, call_fenced\n"
        "def sleep():\n"
        "    pathlib.Path('pid.part').write_text(str(os.getpid()))\n"
        "    os.rename('pid.part', 'pid')\n"
        "    time.sleep(100)\n"
        "if __name__ == '__main__':\n"
        "    call_fenced(sleep, fence=Fence(memory_bytes=2**30, seconds=90, file_bytes=9),"
        " named={})\n"
    )
    with subprocess.Popen([sys.executable, "waits.py"], cwd=tmp_path) as parent:
        waited = time.monotonic() + 60
        while not (tmp_path / "pid").exists() and time.monotonic() < waited:
            time.sleep(0.02)
        child = int((tmp_path / "pid").read_text())
        parent.kill()
    gone = time.monotonic() + 20
    while time.monotonic() < gone and _lives(child):
        time.sleep(0.02)
    assert not _lives(child)


def _lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{pid}/stat")
    return not state.exists() or state.read_text().rpartition(")")[2].split()[0] != "Z"


@unix
@pytest.mark.parametrize("what", ["memory", "time"])
def test_verify_says_which_limit_was_reached_and_that_nothing_may_be_relied_upon(
    what: str, tmp_path: Path
) -> None:
    bundle({})(tmp_path / "b.zip")
    usual = fence_of_verify()
    assert usual.memory_bytes == most("verify_memory")
    assert usual.seconds == most("verify_seconds")
    small = {
        "memory": Fence(memory_bytes=150 * 2**20, seconds=60, file_bytes=2**20),
        "time": Fence(memory_bytes=usual.memory_bytes, seconds=0, file_bytes=2**20),
    }
    with pytest.raises(ReportError, match=r"'b\.zip' was not verified") as e:
        verify_guarded(tmp_path / "b.zip", fence=small[what])
    if what == "time":
        assert "within the limit, 0 seconds" in str(e.value)
    assert "must not be relied upon" in str(e.value)
    assert set(guarded.REASONS) == {"memory", "time", "ended", "error"}
