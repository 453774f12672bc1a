"""Each question of a reader has a command that exists and a section that is composed."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
from pathlib import Path

import click
import pytest
from docs_pages import workplace

from fleetstats.chapters.compose import compose_report
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.cli import VERBS, main
from fleetstats.document.document import Figure, Table
from fleetstats.studies import analyse as analysis
from fleetstats.study.study import read_study

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "reports" / "docs" / "stories.md"
RENDERED = ("tow-clubs", "quiet-fleet")
"""Studies whose report is in the repository; the others are composed here."""
NEEDED = {
    "workshop": ("claim", "recurrence", "later-lives"),
    "on-condition": ("condition", "check-interval", "trends", "outlook", "forecast", "bench"),
}


def stories() -> list[tuple[str, ...]]:
    return [
        tuple(c.strip() for c in line.strip().strip("|").split("|"))
        for line in PAGE.read_text(encoding="utf-8").splitlines()
        if re.match(r"\| \d", line)
    ]


STORIES = stories()


def test_there_are_twenty_five_and_each_reader_has_some() -> None:
    assert [int(s[0]) for s in STORIES] == list(range(1, 26))
    assert {s[1] for s in STORIES} == {"B", "C", "I"}
    assert all(s[2].endswith("?") for s in STORIES)
    assert len({s[2] for s in STORIES}) == 25


@pytest.mark.parametrize("story", STORIES, ids=lambda s: s[0])
def test_the_command_exists_as_written(story: tuple[str, ...]) -> None:
    program, verb, *words = shlex.split(story[3].strip("`"))
    assert program == "fleetstats"
    assert verb in VERBS
    command = main.get_command(click.Context(main), verb)
    assert command is not None
    # parsed by click itself, without being run: unknown options or values are refused there
    context = command.make_context(verb, list(words))
    assert context.params["folder"] == Path("datasets") / story[4]
    assert (ROOT / "datasets" / story[4] / "study.toml").is_file()


@pytest.fixture(scope="module")
def composed() -> dict[str, dict[str, set[str]]]:
    """Return, study by study, the sections of its report with their tables and figures."""
    out = {}
    for study in RENDERED:
        told = json.loads((ROOT / "reports" / study / "report.json").read_text(encoding="utf-8"))
        out[study] = {
            s["key"]: {b["key"] for b in s["blocks"] if "key" in b} for s in told["sections"]
        }
    with pytest.MonkeyPatch.context() as patch:
        for study, keys in NEEDED.items():
            patch.setattr(analysis, "CHAPTERS", {k: CHAPTERS[k] for k in CHAPTERS if k in keys})
            results = analysis.analyse(read_study(ROOT / "datasets" / study))
            assert not results.troubles
            out[study] = {
                s.key: {b.key for b in s.blocks if isinstance(b, Table | Figure)}
                for s in compose_report(results).sections
            }
    return out


@pytest.mark.parametrize("story", STORIES, ids=lambda s: s[0])
def test_the_section_holds_what_it_says(
    story: tuple[str, ...], composed: dict[str, dict[str, set[str]]]
) -> None:
    sections, blocks = (re.findall(r"`([a-z-]+)`", cell) for cell in story[5:7])
    assert sections
    assert blocks
    there = composed[story[4]]
    assert set(sections) <= set(there), story[0]
    assert set(blocks) <= set().union(*(there[s] for s in sections)), story[0]


@pytest.mark.slow
@pytest.mark.parametrize("command", sorted({s[3].strip("`") for s in STORIES}))
def test_each_command_answers(command: str, tmp_path: Path) -> None:
    """Run as written, in a copy of the data: a whole report or an answer, never a failure."""
    folder = workplace(tmp_path)
    done = subprocess.run(
        [Path(sys.executable).parent / "fleetstats", *shlex.split(command)[1:]],
        cwd=folder,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=600,
        check=False,
    )
    # 3: done, and the answer is "not enough evidence" or the check found what it looks for
    assert done.returncode in (0, 3), done.stderr
    assert len(done.stdout.splitlines()) >= 3
    verb = command.split()[1]
    if verb in ("study", "bundle"):
        name = Path(command.split()[2]).name
        made = folder / ("reports/" + name + "/report.html" if verb == "study" else name + ".zip")
        assert made.is_file()
