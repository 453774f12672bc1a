"""The comparison of two studies as a report: every step in table and figure, nothing hidden."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from last_year import THEN, last_year_files
from test_walk import OLD, fleet, study  # the same fleets as those of the walk

from fleetstats.core.provenance import SourceFile
from fleetstats.demo.oncondition import draw_fleet
from fleetstats.document.document import Document, Statement, Table
from fleetstats.document.parts import check_document, find_tables, walk_blocks
from fleetstats.document.words import FORBIDDEN
from fleetstats.report.pdf import report_pdf
from fleetstats.report.write import write_report
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.studies.compare.attribution import Walk, walk_advice
from fleetstats.studies.compare.document import Side, compose_compare
from fleetstats.studies.compare.engines import caution_rewritten, engine_changes
from fleetstats.studies.compare.figure import walk_figure
from fleetstats.study.settings import QuestionKeys

DATASETS = Path(__file__).parents[2] / "datasets"


def later() -> Spells:
    """Ten engines are new, three gone, one failed, the rest ran 200 h more."""
    ages = np.linspace(100, 1400, 60) + 200.0
    failed = np.zeros(60, dtype=bool)
    failed[30] = True
    return (
        fleet(ages, failed).select(np.arange(60) >= 3).join(fleet(np.full(10, 1500.0), None, 500))
    )


def sides(new: Spells, target: float = 0.95) -> tuple[Side, Side, Walk]:
    files = (SourceFile(name="lives.csv", size_bytes=9, sha256="ab" * 32, rows=60),)
    a = Side(study=study(0.9), sources=files, spells=OLD)
    b = Side(study=study(target), sources=files, spells=new)
    return a, b, walk_advice(a.study, a.spells, b.study, b.spells)


def compared(new: Spells, target: float = 0.95) -> tuple[Document, Walk]:
    a, b, walk = sides(new, target)
    return compose_compare(a, b, walk, command="fleetstats compare a b"), walk


def table(document: Document, key: str) -> Table:
    return next(t for t in find_tables(document) if t.key == key)


def test_every_step_stands_in_table_and_figure() -> None:
    document, walk = compared(later())
    check_document(document)
    assert [r[0] for r in table(document, "walk").rows] == [s.what for s in walk.steps]
    figure = document.first_figure
    assert figure is not None
    bars = {}
    for layer in figure.panels[0].layers:
        if layer.kind == "spans":
            for name, x, x2 in zip(layer.names, layer.x, layer.x2, strict=True):
                bars[name] = (x, x2, layer.role)
    first, last = walk.steps[0].figure.plan_from_h, walk.steps[-1].figure.plan_from_h
    assert bars["The earlier study"] == (0.0, first, "reference")
    assert bars["The later study"] == (0.0, last, "reference")
    # each bar is as long as the move that the table gives, and they add up
    moves = {r[0]: r[3] for r in table(document, "walk").rows}
    assert bars["Settings"][1] - bars["Settings"][0] == -moves["the new study's settings"]
    assert bars["Settings"][2] == "group-2"
    assert bars["Further hours"][2] == "group-1"
    total = sum(
        (-1 if r == "group-2" else 1) * (b - a) for a, b, r in bars.values() if r != "reference"
    )
    assert total == last - first


def test_words_are_the_documents_own_and_promise_nothing() -> None:
    document, walk = compared(later())
    for _, block in walk_blocks(document):
        if isinstance(block, Statement):
            assert not FORBIDDEN.search(block.text), block.text
    assert document.verdict == walk.steps[-1].figure.verdict
    assert "57 engines are in both, 10 new, 3 gone; 1 failure in" in document.answer[1]
    assert "Nothing that the earlier records held" in document.answer[2]
    assert document.cautions == ()
    rows = {r[0]: r[1:] for r in table(document, "settings-changed").rows}
    assert rows == {"targets.reliability": ("0.9", "0.95")}
    changed = {r[0]: r[1] for r in table(document, "engines-changed").rows}
    assert changed["e030"] == "failed since"
    assert changed["e000"] == "no longer in the records"
    assert changed["e500"] == "new to the records"
    assert "e031" not in changed  # it ran on, that is all
    assert [f.name for f in document.provenance.files] == ["earlier/lives.csv", "later/lives.csv"]


def test_records_that_take_back_are_named() -> None:
    """e010 ran backwards; e020 failed in the earlier records and runs in the later ones."""
    failed = np.zeros(60, dtype=bool)
    failed[20] = True
    old = fleet(np.linspace(100, 1400, 60), failed)
    ages = np.linspace(100, 1400, 60) + 10.0
    ages[10] -= 100.0
    new = fleet(ages)
    kinds = {c.unit: c.kind for c in engine_changes(old, new)}
    assert kinds == {"e010": "hours-back", "e020": "failure-gone"}
    (caution,) = caution_rewritten(engine_changes(old, new))
    assert caution.value == "2 engines: e020 and e010"
    assert caution_rewritten(engine_changes(old, fleet(ages + 500.0, failed))) == ()
    # a failed engine that is left out altogether is taken back too
    without = fleet(ages + 500.0, failed).select(np.arange(60) != 20)
    (caution,) = caution_rewritten(engine_changes(old, without))
    assert "e020" in caution.value


def test_another_question_is_a_caution() -> None:
    a, b, _ = sides(OLD, 0.9)
    settings = dataclasses.replace(b.study.settings, question=QuestionKeys(level="beyond-limits"))
    b = dataclasses.replace(b, study=dataclasses.replace(b.study, settings=settings))
    walk = walk_advice(a.study, a.spells, b.study, b.spells)
    document = compose_compare(a, b, walk)
    assert [(c.code, c.value) for c in document.cautions] == [
        ("definition-changed", "question.level")
    ]


def test_no_band_gives_no_figure_and_still_a_page(tmp_path: Path) -> None:
    """Nine engines: too few at risk at any age for a band."""
    few = OLD.select(np.arange(60) < 9)
    a, _, _ = sides(OLD)
    b = dataclasses.replace(a, spells=few)
    a = dataclasses.replace(a, spells=few)
    walk = walk_advice(a.study, few, b.study, few)
    assert walk_figure(walk) is None
    document = compose_compare(a, b, walk)
    assert document.verdict in ("not-yet-shown", "not-enough-evidence", "hours-do-not-tell")
    page = write_report(document, walk, tmp_path / "out")
    assert "neither study gives one" in page.read_text(encoding="utf-8")


def test_moves_of_the_last_year_study_add_up() -> None:
    from fleetstats.studies.analyse import lives_of
    from fleetstats.study.study import read_study

    old, new = (read_study(DATASETS / n) for n in ("on-condition-2025", "on-condition"))
    walk = walk_advice(old, lives_of(old).spells, new, lives_of(new).spells)
    hours = [s.figure.plan_from_h for s in walk.steps]
    assert sum(s.move_h or 0.0 for s in walk.steps) == hours[-1] - hours[0]
    assert walk.data.failures_added == 4
    assert walk_figure(walk) is not None


def test_a_gap_in_the_middle_keeps_the_sum(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: 700, 650, none, 500, 500, 600 h move by -50, none, -150, 0, +100: -100 in all."""
    from fleetstats.advice.key_figures import advising
    from fleetstats.studies.compare import attribution as module

    hours = iter([700.0, 650.0, None, 500.0, 500.0, 600.0])
    real = advising(study().settings)

    def made(_settings):
        return lambda spells: dataclasses.replace(real(spells), plan_from_h=next(hours))

    monkeypatch.setattr(module, "advising", made)
    walk = walk_advice(study(), OLD, study(), OLD)
    assert [s.move_h for s in walk.steps] == [None, -50.0, None, -150.0, 0.0, 100.0]
    figure = walk_figure(walk)
    assert figure is not None
    bars = [
        (name, float(x), float(x2), layer.role)
        for layer in figure.panels[0].layers
        if layer.kind == "spans"
        for name, x, x2 in zip(layer.names, layer.x, layer.x2, strict=True)
    ]
    assert ("How lives ended", 500.0, 650.0, "group-2") in bars
    assert ("New engines", 500.0, 600.0, "group-1") in bars
    # no row of the figure is empty without a word: the step without hours has its own mark
    marks = {
        layer.label: layer.y.tolist() for layer in figure.panels[0].layers if layer.kind == "points"
    }
    assert marks == {"no hours advised at this step": [2.0], "no move": [4.0]}
    assert "moved 100 h earlier, from 700 h to 600 h" in walk.sentence


def test_all_faces_are_written(tmp_path: Path) -> None:
    document, walk = compared(later())
    write_report(document, walk, tmp_path / "out")
    told = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert told["schema"].startswith("fleetstats/walk/")
    assert (tmp_path / "out" / "tables" / "walk.csv").is_file()
    assert (tmp_path / "out" / "figures" / "advice-walk.svg").is_file()
    assert report_pdf(document).startswith(b"%PDF")


def test_last_years_files_are_those_of_the_seed_and_only_cut() -> None:
    for name, text in last_year_files().items():
        assert (DATASETS / "on-condition-2025" / name).read_text(encoding="utf-8") == text
    now = {e.name: e for e in draw_fleet()}
    for line in last_year_files()["lives.csv"].splitlines()[1:]:
        name, _, entry, stop, ending, *_ = line.split(",")
        assert float(stop) <= now[name].end_h
        assert float(stop) > float(entry or 0)
        assert ending == "running" or now[name].cause
    assert str(THEN) == "2025-09-30"


@pytest.mark.parametrize("event", [Event.COMPETING, Event.FINDING])
def test_other_endings_are_told(event: Event) -> None:
    new = fleet(np.linspace(100, 1400, 60) + 5.0)
    events = np.array(new.event)
    events[7] = event
    (change,) = engine_changes(OLD, dataclasses.replace(new, event=events))
    assert (change.unit, change.kind) == ("e007", "ended")
    assert change.ended_after.startswith(("failed from another", "removed on"))
