"""Respelling a word of the records changes no answer: case, hyphens, underscores, spaces."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.core.errors import SettingError
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.condition.condition import read_condition
from fleetstats.records.life import LifeRow
from fleetstats.records.readers import read_records
from fleetstats.records.spelling import spell_alike
from fleetstats.spells.build import build_spells
from fleetstats.spells.bulk.bulk import build_bulk
from fleetstats.study.study import read_study
from fleetstats.vocabulary.finding import Origin

DATASETS = Path(__file__).parents[2] / "datasets"
VERBS = ("interval", "claim", "hidden", "causes", "plan", "trends", "outlook", "forecast", "bench",
         "check")  # fmt: skip


def told(verb: str, folder: Path) -> str:
    run = CliRunner().invoke(main, [verb, str(folder), "--json"], catch_exceptions=False)
    assert run.exit_code in (0, 3), run.output
    return run.stdout


@pytest.fixture(scope="module")
def two(tmp_path_factory) -> tuple[Path, Path]:
    """Return the on-condition demo as shipped, and with the causes of its lives respelled."""
    out = []
    for name in ("shipped", "respelled"):
        folder = tmp_path_factory.mktemp(name) / "on-condition"
        shutil.copytree(DATASETS / "on-condition", folder)
        out.append(folder)
    lives = out[1] / "lives.csv"
    text = lives.read_text(encoding="utf-8")
    assert "exhaust valve" in text
    assert "cam follower" in text
    text = text.replace("exhaust valve", "exhaust-valve").replace("cam follower", "Cam_Follower")
    lives.write_text(text, encoding="utf-8")
    return out[0], out[1]


@pytest.mark.parametrize("verb", VERBS)
def test_causes_of_lives_with_hyphens_and_of_checks_with_spaces(verb: str, two) -> None:
    shipped, respelled = (json.loads(told(verb, folder)) for folder in two)
    for answer in (shipped, respelled):
        for row in answer.get("trouble", {}).get("rows", ()):
            row.pop("words")  # quoted as they are written
    assert shipped == respelled


def test_modes_of_checks_and_bench_respelled(two, tmp_path: Path) -> None:
    folder = tmp_path / "on-condition"
    shutil.copytree(two[0], folder)
    for file, old, new in (
        ("checks.csv", "exhaust valve", "Exhaust_Valve"),
        ("checks.csv", "cam follower", "CAM-follower"),
        ("checks.csv", "oil use", "Oil-Use"),
        ("bench.csv", "fillet fatigue", "Fillet-Fatigue"),
    ):
        text = (folder / file).read_text(encoding="utf-8")
        assert old in text
        (folder / file).write_text(text.replace(old, new), encoding="utf-8")
    for verb in ("interval", "bench", "trends"):
        assert json.loads(told(verb, folder)) == json.loads(told(verb, two[0]))


def test_actions_and_ids_respelled_in_checks_and_readings(two, tmp_path: Path) -> None:
    folder = tmp_path / "on-condition"
    shutil.copytree(two[0], folder)
    for file, old, new in (
        ("leakdown.csv", "valve work", "Valve-Work"),
        ("leakdown.csv", r"(?m)^([^,\n]*),C-0", r"\1,c 0"),
        ("checks.csv", "C-0", "c_0"),
    ):
        text = (folder / file).read_text(encoding="utf-8")
        assert re.search(old, text)
        (folder / file).write_text(re.sub(old, new, text), encoding="utf-8")
    for verb in ("trends", "outlook", "interval"):
        assert json.loads(told(verb, folder)) == json.loads(told(verb, two[0]))


LOG = """engine,date,hours,kind,cause,component,position,build,source
A-1,2010-01-01,0,installed,,,,{b1},{s1}
A-1,2011-01-01,100,part-fitted,,{c1},{p1},,{s1}
A-1,2012-01-01,200,reading,,,,{b2},{s2}
A-1,2013-01-01,300,part-removed,worn,{c2},{p2},,{s2}
A-1,2014-01-01,400,removed,{u1},,,,{s1}
"""


def test_builds_sources_places_and_components_of_a_log_respelled(make_study) -> None:
    def lives(**words: str):
        study = make_study(
            LOG.format(**words), name="log.csv",
            records='\n[[records]]\nfile = "lives.csv"\nshape = "log"\nsource = "club A"\n',
        )  # fmt: skip
        records = read_records(study)
        audit = audit_records(study, records)
        rows = [(x.entry_h, x.exit_h, x.ending, x.build, x.source) for x in audit.used]
        events = [e for r in records.readings for e in r.events]
        return rows, [f.code for f in audit.findings], {(e.component, e.position) for e in events}

    one = {"b": "B 1", "s": "club A", "c": "turbo charger", "p": "left hand"}
    other = {"b": "b-1", "s": "CLUB-A", "c": "Turbo-Charger", "p": "Left_Hand"}
    first = {f"{k}1": v for k, v in one.items()}
    plain = lives(**first, **{f"{k}2": v for k, v in one.items()}, u1="overhaul due")
    mixed = lives(**first, **{f"{k}2": v for k, v in other.items()}, u1="Overhaul-Due")
    assert plain == mixed
    assert "log-build-changed" not in mixed[1]


def test_a_build_and_a_source_in_two_spellings_are_one_group(audited) -> None:
    rows = (
        "engine,exit_hours,ending,build,source\n"
        "E-1,100,running,Mk-2,north club\nE-2,200,failed,mk 2,North-Club\n"
        "E-3,300,running,Mk-2,north club\n"
    )
    study, records, audit = audited(rows)
    spells = build_spells(study, records, audit).spells
    assert set(spells.build.tolist()) == {"Mk-2"}
    assert set(spells.source.tolist()) == {"north club"}


def test_chunks_count_endings_of_respelled_causes_as_one(audited) -> None:
    rows = "engine,exit_hours,ending,cause,confirmed\n" + "".join(
        f"E-{i},{100 + i},failed,{c},yes\n"
        for i, c in enumerate(["cam-follower", "Cam_Follower", "cam-follower", "PISTON", "Rotor"])
    )
    causes = '[question]\ncauses = ["piston"]\n[merge]\nreturns = false\n'
    study, records, audit = audited(rows, settings=causes)
    whole = {
        (e.cause, e.counts_as, e.reason): e.n for e in build_spells(study, records, audit).endings
    }
    chunks = {(e.cause, e.counts_as, e.reason): e.n for e in build_bulk(study).endings}
    assert whole == chunks
    assert whole["cam-follower", "competing", "cause not in question: cam-follower"] == 3
    assert {c for c, _, _ in whole} == {"cam-follower", "piston", "Rotor"}


def test_two_spellings_of_one_word_with_two_meanings_are_refused(make_study) -> None:
    table = '[records.causes]\n"loose rod" = "rod"\n"Loose-Rod" = "bearing"\n'
    with pytest.raises(SettingError, match="is one word with"):
        make_study(records='\n[[records]]\nfile = "lives.csv"\n' + table)


def test_the_study_files_spelling_stands(make_study) -> None:
    study = make_study(settings='[question]\ncauses = ["exhaust valve"]\n')
    lives = [
        LifeRow(origin=Origin(file="x.csv"), engine=f"E-{i}", exit_h=10.0, ending="failed", cause=c)
        for i, c in enumerate(["EXHAUST-VALVE", "Exhaust_valve", "Rotor", "rotor", "rotor"])
    ]
    assert [x.cause for x in spell_alike(lives, study)] == 2 * ["exhaust valve"] + 3 * ["rotor"]


UNKNOWN = ("unknown", "not stated", "undetermined", "Not-Stated", "none given", "?", "n/a", "")


def test_ten_failures_of_unknown_cause_give_one_verdict_whatever_the_word(tmp_path: Path) -> None:
    """Failures 'not stated' counted as a cause outside the question, 'unknown' as in it."""
    answers = set()
    for i, word in enumerate(UNKNOWN):
        folder = tmp_path / str(i)
        folder.mkdir()
        rows = ["engine,exit_hours,ending,cause"]
        rows += [f"E-{k:03d},{500 + 40 * k},failed,{word}" for k in range(10)]
        rows += [f"R-{k:03d},{600 + 30 * k},running," for k in range(30)]
        rows += [f"P-{k:03d},{700 + 50 * k},failed,piston" for k in range(4)]
        (folder / "lives.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
        (folder / "study.toml").write_text(
            '[study]\ntitle = "T"\nanalysis_date = 2025-12-31\nclaimed_interval_h = 900\n'
            '[question]\ncauses = ["piston"]\n[[records]]\nfile = "lives.csv"\nsource = "A"\n',
            encoding="utf-8",
        )
        assert len(read_condition(read_study(folder)).checks) == 0
        answers.add((told("claim", folder), told("hidden", folder), told("causes", folder)))
    assert len(answers) == 1


def test_the_lists_of_the_study_know_unknown_words_too(make_study) -> None:
    """Checks: a fault of a mode "not stated" may be any mode, as one with an empty cell."""
    rows = "engine,hours,method,result,mode\nE-1,50,plug,found,{}\n"
    found = []
    for word in UNKNOWN:
        study = make_study(
            more={"checks.csv": rows.format(word)},
            records='\n[[records]]\nfile = "lives.csv"\n[[records]]\nfile = "checks.csv"\n'
            'shape = "checks"\n',
        )
        condition = read_condition(study)
        found.append(([c.mode for c in condition.checks], [f.code for f in condition.findings]))
    assert found == len(UNKNOWN) * [([""], ["mode-missing"])]
