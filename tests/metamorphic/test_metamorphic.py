"""The same facts, written otherwise, give the same answers: every verb, every shipped data set.

Each case rewrites a study folder (`rewrites.py`), runs a verb on it and compares what it prints
as JSON with what it prints for the folder as it stands (`answers_json.py`). A figure may move only
where the change names it, with its rule. No outside source: an answer that hangs on spelling,
units, or the order of rows is wrong whatever its value.

The quick tests run a verb in turn to each change and data set, and those that the change asks;
the slow ones run all.
"""

from __future__ import annotations

import functools
from pathlib import Path
from typing import Any

import pytest
from answers_json import VERBS, Difference, Verb, differences, run_verb
from changes import CHANGES, Change
from study_folder import StudyText, read_text

DATA = Path(__file__).parents[2] / "datasets"
SETS = sorted(p.name for p in DATA.iterdir() if (p / "study.toml").is_file())
IN_TURN = 1
"""Verbs to a change and data set whose turn it is in the quick tests, besides those it asks."""

SILENT = {
    "new-mode": {"events", "interval", "trends", "bench"},
    "on-condition": {"events"},
    "on-condition-2025": {"events", "interval", "trends", "bench"},
    "quiet-fleet": {"causes", "events", "interval", "trends", "bench"},
    "tow-clubs": {"trends", "bench", "study --chunks"},
    "workshop": {"interval", "trends", "bench", "study --chunks"},
}
"""Verbs that have nothing to say of a data set; held in turn by `test_who_is_silent`."""


@functools.cache
def text_of(name: str) -> StudyText:
    return read_text(DATA / name)


class Answers:
    """What verbs say of folders, each asked once a session."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.kept: dict[tuple[str, str, str], dict[str, Any]] = {}

    def of(self, name: str, how: str, text: StudyText, verb: Verb) -> dict[str, Any]:
        """Return the answer of a verb on data set `name`, rewritten as `how` says."""
        key = (name, how, verb.name)
        if key not in self.kept:
            folder = self.root / how.replace(" ", "-") / name
            if not folder.is_dir():
                text.write(folder)
            self.kept[key] = verb.run(folder, at=self.root / "reports" / "-".join(key))
        return self.kept[key]

    def compare(self, name: str, change: Change, verb: Verb) -> list[Difference]:
        text = text_of(name)
        how = change.name if change.against else "as it stands"
        old = change.against(text) if change.against else text
        return list(
            differences(
                verb.name,
                self.of(name, f"before {how}", old, verb),
                self.of(name, change.name, change.rewrite(text), verb),
                change,
            )
        )


@pytest.fixture(scope="session")
def answers(tmp_path_factory: pytest.TempPathFactory) -> Answers:
    return Answers(tmp_path_factory.mktemp("metamorphic"))


def _pairs() -> list[Any]:
    return [
        pytest.param(
            change,
            name,
            id=f"{change.name}-{name}".replace(" ", "_"),
            # answers of a data set are kept, so one worker asks them all
            marks=pytest.mark.xdist_group(f"answers of {name}"),
        )
        for change in CHANGES
        for name in SETS
        if change.applies(text_of(name))
    ]


def _turn(change: Change, name: str) -> tuple[Verb, ...]:
    """Return the verbs that the change asks, and one in turn of those that speak."""
    speak = [v for v in VERBS if not v.heavy and v.name not in SILENT[name]]
    at = IN_TURN * CHANGES.index(change) + SETS.index(name)
    turn = [speak[(at + i) % len(speak)] for i in range(IN_TURN)]
    return tuple(v for v in speak if v in turn or v.name in change.asks)


def _told(found: list[Difference]) -> str:
    lines = [f"{len(found)} figures differ, the first:", *(str(d) for d in found[:3])]
    return "\n".join(lines)


@pytest.mark.parametrize(("change", "name"), _pairs())
def test_answers_stand_when_facts_are_written_otherwise(
    answers: Answers, change: Change, name: str
) -> None:
    for verb in _turn(change, name):
        found = answers.compare(name, change, verb)
        assert not found, f"{verb.name}: {_told(found)}"


@pytest.mark.slow
@pytest.mark.parametrize("verb", VERBS, ids=lambda v: v.name)
@pytest.mark.parametrize(("change", "name"), _pairs())
def test_all_answers_stand(answers: Answers, change: Change, name: str, verb: Verb) -> None:
    if verb.name in SILENT[name]:
        return
    found = answers.compare(name, change, verb)
    assert not found, _told(found)


def _many(root: Path, change: Change | None) -> Path:
    """Write every shipped study into one folder, as it stands or rewritten; return the folder."""
    for name in SETS:
        text = text_of(name)
        (change.rewrite(text) if change else text).write(root / name)
    return root


@pytest.mark.parametrize(
    "arguments",
    [("portfolio", "."), ("compare", "on-condition-2025", "on-condition")],
    ids=lambda a: a[0],
)
@pytest.mark.parametrize("name", ["ids respelt", "much at once"])
def test_verbs_on_many_studies_stand(arguments: tuple[str, ...], name: str, tmp_path: Path) -> None:
    change = next(c for c in CHANGES if c.name == name)
    verb, *folders = arguments
    said = [
        run_verb(
            [verb, *(str(_many(tmp_path / side / "many", how) / f) for f in folders)],
            tmp_path / side / "report" if verb == "portfolio" else None,
        )
        for side, how in (("old", None), ("new", change))
    ]
    found = list(differences(verb, *said, change))
    assert not found, _told(found)


@pytest.mark.parametrize("respelt", ["on-condition-2025", "on-condition"])
def test_studies_compared_may_spell_one_engine_in_two_ways(respelt: str, tmp_path: Path) -> None:
    change = next(c for c in CHANGES if c.name == "ids respelt")
    said = []
    for side in ("as it stands", "respelt"):
        folders = []
        for name in ("on-condition-2025", "on-condition"):
            text = text_of(name)
            text = change.rewrite(text) if (side, name) == ("respelt", respelt) else text
            folders.append(text.write(tmp_path / side / name))
        said.append(run_verb(["compare", *map(str, folders)], None))
    found = list(differences("compare", *said, change))
    assert not found, _told(found)


@pytest.mark.parametrize("name", SETS)
def test_who_is_silent(answers: Answers, name: str) -> None:
    for verb in VERBS:
        if verb.name in SILENT[name]:
            said = answers.of(name, "before as it stands", text_of(name), verb)
            assert "error" in said or said["schema"] == "fleetstats/nothing/1", verb.name
