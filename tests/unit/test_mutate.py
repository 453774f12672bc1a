"""The changes that the tool makes, and what it says of a small project: one is seen, one is not."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import mutate
import pytest
from mutants import mutants_of
from nearest_tests import NearestTests

SOURCE = b'''\
"""Rules; 1 of 2."""
FEW = 5
SHARES = {"stale": 0.5, "near": 0}


def rule(n: int, word: str = "x", most: int = 9) -> bool:
    """Return whether 3 < n."""
    spare = 7
    if word in ("lost", "running") and n is not None:
        return n >= FEW or n - spare < 4
    return word == "new"
'''


def changes() -> list[tuple[int, str, str, str]]:
    return [(m.line, m.name, m.before, m.after) for m in mutants_of("rules.py", SOURCE)]


def test_every_number_outside_functions_and_every_comparison_is_changed() -> None:
    got = changes()
    assert (2, "FEW", "5", "6") in got
    assert (3, "SHARES", "0.5", "0.55") in got
    assert (3, "SHARES", "0", "1") in got
    assert (6, "rule", "9", "10") in got
    assert (9, "rule", "in", "not in") in got
    assert (9, "rule", "and", "or") in got
    assert (9, "rule", "is not", "is") in got
    assert (9, "rule", '"lost", ', "") in got
    assert (9, "rule", ', "running"', ",") in got
    assert {a for line, _, b, a in got if line == 10 and b == ">="} == {">", "<"}
    assert {a for line, _, b, a in got if line == 10 and b == "<"} == {"<=", ">="}
    assert (10, "rule", "or", "and") in got
    assert (10, "rule", "4", "5") in got
    assert (11, "rule", "==", "!=") in got
    # neither words in docstrings nor numbers at work inside a function
    assert not [c for c in got if c[0] in (1, 7, 8)]


def test_each_change_is_one_and_is_python() -> None:
    found = mutants_of("rules.py", SOURCE)
    assert len({m.key for m in found}) == len(found)
    for m in found:
        text = m.apply(SOURCE)
        assert text != SOURCE
        compile(text, "rules.py", "exec")
    with pytest.raises(ValueError, match="has changed"):
        found[0].apply(SOURCE[1:])


@pytest.fixture
def project(tmp_path: Path) -> Path:
    files = {
        "fleetstats/__init__.py": "",
        "fleetstats/rules.py": (
            "FEW = 5\nMANY = 50\n\ndef enough(n):\n    return n >= FEW\n\n"
            "def plenty(n):\n    return n > MANY\n"
        ),
        "fleetstats/above.py": "from fleetstats.rules import plenty\n\nasked = plenty\n",
        "tests/conftest.py": "",
        "tests/test_rules.py": (
            "from fleetstats.rules import enough\n\ndef test_enough():\n"
            "    assert enough(5) and not enough(4)\n"
        ),
        "tests/test_above.py": (
            "from fleetstats.above import asked\n\ndef test_asked():\n    assert asked(90)\n"
        ),
        "tests/test_other.py": "def test_nothing():\n    assert True\n",
        "pyproject.toml": "[tool.pytest.ini_options]\n",
    }
    for name, text in files.items():
        path = tmp_path / "p" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return tmp_path / "p"


def test_the_nearest_tests_come_first_and_strangers_never(project: Path) -> None:
    nearest = NearestTests(project, "fleetstats")
    assert nearest.order("fleetstats/rules.py", "enough") == [
        "tests/test_rules.py", "tests/test_above.py",
    ]  # fmt: skip
    assert nearest.order("fleetstats/above.py", "asked") == ["tests/test_above.py"]


def test_survivors_are_told_and_nothing_is_left_changed(project: Path, tmp_path: Path) -> None:
    before = {p: p.read_bytes() for p in sorted(project.rglob("*")) if p.is_file()}
    log = tmp_path / "log.jsonl"
    words = ["rules", "--root", str(project), "--log", str(log)]

    def run() -> str:
        return subprocess.run(
            [sys.executable, mutate.__file__, *words],
            capture_output=True, text=True, check=True, timeout=300,
        ).stdout  # fmt: skip

    said = run()
    assert {p: p.read_bytes() for p in sorted(project.rglob("*")) if p.is_file()} == before
    # FEW, >= two ways, > the opposite way: seen. MANY and > at its boundary: not.
    assert said.startswith("6 changes tried: 4 failed, 2 survived")
    assert "| fleetstats/rules.py | 2 | MANY | `50 -> 51` | 2 files |" in said
    assert "| fleetstats/rules.py | 8 | plenty | `> -> >=` | 2 files |" in said
    lines = log.read_text(encoding="utf-8").splitlines()
    # interrupted while it wrote the last line: only that one is tried again
    log.write_text("\n".join([*lines[:-1], lines[-1][:20]]) + "\n", encoding="utf-8")
    assert run() == said
    again = [json.loads(x) for x in log.read_text(encoding="utf-8").splitlines() if x[-1] == "}"]
    assert len([r for r in again if "file" in r]) == 6


def test_one_that_is_told_to_stop_leaves_no_copy(project: Path, tmp_path: Path) -> None:
    slow = (
        "import time\nfrom fleetstats.rules import enough\n\ndef test_slow():\n    time.sleep(60)\n"
    )
    (project / "tests" / "test_rules.py").write_text(slow, encoding="utf-8")
    room = tmp_path / "room"
    room.mkdir()
    running = subprocess.Popen(
        [sys.executable, mutate.__file__, "rules", "--root", str(project)],
        env={**os.environ, "TMPDIR": str(room)},
    )
    end = time.monotonic() + 120
    while not list(room.glob("mutants-*/tests/test_rules.py")) and time.monotonic() < end:
        time.sleep(0.1)
    time.sleep(1.0)
    running.terminate()
    assert running.wait(timeout=60) == 143
    assert list(room.iterdir()) == []


def test_a_sample_is_the_same_for_a_seed_and_a_wrong_place_is_told(project: Path) -> None:
    two = mutate.choose(project, ["rules", "above"], 2, 7)
    assert two == mutate.choose(project, ["rules", "above"], 2, 7)
    assert len(two) == 2
    with pytest.raises(SystemExit, match="names no floor, room or file"):
        mutate.choose(project, ["roolz"], 0, 1)
