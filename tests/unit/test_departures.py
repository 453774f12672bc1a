"""What a study changed against the defaults is told with its counts, on every face.

Invented fleets of a few engines; each count below can be read off the rows. No source.
"""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from fleetstats.chapters.departures import DepartureList
from fleetstats.chapters.departures.compute import list_departures
from fleetstats.chapters.departures.values import Departure
from fleetstats.cli import main
from fleetstats.records.undone import undo_maps
from fleetstats.studies.analyse import read_lives_of
from fleetstats.studies.by_chunks import lives_by_chunks
from fleetstats.study.study import Study, read_study
from fleetstats.vocabulary.cautions import FIRST, rank_of
from fleetstats.vocabulary.trouble import says_failure

HEAD = "engine,exit_hours,ending,cause,confirmed"
LIVES = [
    *[f"F{i},{500 + i},failed,piston,yes" for i in range(7)],
    *[f"G{i},{600 + i},failed,crankshaft," for i in range(4)],
    "H1,650,failed,prop strike,no",
    *[f"K{i},{700 + i},found-at-check,cylinder," for i in range(2)],
    *[f"R{i},{800 + i},running,," for i in range(40)],
    *[f"S{i},{300 + i},sold,," for i in range(3)],
]


ACCEPT = '[treat]\nfailure-or-not = "accept"\n'
"""The audit stops at such rows by itself; here it is told to go on."""


def write(
    folder: Path, *, more: str = "", maps: str = "", rows: list[str] | None = None, head: str = HEAD
) -> Study:
    """Write a study of one file of lives and read it back."""
    folder.mkdir(exist_ok=True)
    (folder / "lives.csv").write_text("\n".join([head, *(rows or LIVES)]) + "\n")
    (folder / "study.toml").write_text(
        '[study]\ntitle = "t"\nanalysis_date = 2026-01-01\nclaimed_interval_h = 500\n'
        f'{more}\n[[records]]\nfile = "lives.csv"\n{maps}\n'
    )
    return read_study(folder)


def told(study: Study) -> DepartureList:
    return list_departures(study, *read_lives_of(study))


def only(found: DepartureList, key: str) -> Departure:
    (d,) = (d for d in found.items if d.key == key)
    return d


def said(found: DepartureList) -> list[tuple[str, str]]:
    """Return value and proviso of each caution on a word that was turned."""
    return [(c.value, c.proviso) for c in found.cautions if c.code == "failing-word-mapped"]


def test_a_study_with_no_choices_says_so(tmp_path: Path) -> None:
    found = told(write(tmp_path))
    assert found.items == ()
    assert found.cautions == ()
    assert found.lines == ("Every setting that can turn a verdict stands at its documented "
                           "default.",)  # fmt: skip
    assert found.prompt_lines == ("Departures from default: none.",)
    assert [s.key for s in found.stated] == [
        "study.title", "study.analysis_date", "study.claimed_interval_h", "records[1].file",
    ]  # fmt: skip


def test_a_map_of_endings_that_turns_failed_is_counted_and_cautioned(tmp_path: Path) -> None:
    """11 of the 12 rows fail by the word; the prop strike censors with and without the map."""
    found = told(write(tmp_path, maps='endings = { failed = "planned-overhaul" }'))
    d = only(found, "records[1].endings.failed")
    assert (d.n, d.turned, d.value, d.default) == (12, 7 + 4, "planned-overhaul", "failed")
    assert said(found) == [("11 rows", "11 rows written “failed” are read as planned overhaul")]
    assert rank_of("failing-word-mapped") == FIRST


def test_a_map_that_names_a_club_s_word_turns_nothing(tmp_path: Path) -> None:
    rows = [r.replace("failed", "Went bang") for r in LIVES]
    found = told(write(tmp_path, maps='endings = { "Went bang" = "failed" }', rows=rows))
    d = only(found, 'records[1].endings."Went bang"')
    assert (d.n, d.turned, d.default) == (12, 0, "no word of ours")
    assert said(found) == []


def test_a_text_with_a_word_of_failure_counts_as_one(tmp_path: Path) -> None:
    """The vocabulary does not hold "failed in cruise, total"; "failed" in it does."""
    rows = [r.replace("failed", "failed in cruise total") for r in LIVES]
    maps = 'endings = { "failed in cruise total" = "lost" }'
    assert said(told(write(tmp_path, maps=maps, rows=rows, more=ACCEPT)))[0][0] == "11 rows"
    assert not says_failure("never failed")


def test_a_cause_that_is_mapped_to_a_censoring_one_is_cautioned(tmp_path: Path) -> None:
    found = told(write(tmp_path, maps='causes = { crankshaft = "accident" }'))
    assert (only(found, "records[1].causes.crankshaft").n, said(found)) == (
        4, [("4 rows", "4 rows of cause “crankshaft” are read as accident")],
    )  # fmt: skip


def test_a_map_that_leans_on_a_list_of_causes_is_found_too(tmp_path: Path) -> None:
    """Neither the map nor the list alone hides a failure: the word is nobody's, the list names it.

    And both undone at once where each by itself would leave the row censored.
    """
    word = write(
        tmp_path / "word",
        more='[question]\ncensoring_causes = ["service"]',
        maps='causes = { piston = "service" }',
    )
    assert ("7 rows", "7 rows of cause “piston” are read as service") in said(told(word))
    both = write(
        tmp_path / "both",
        more=ACCEPT + '[question]\ncensoring_causes = ["piston"]',
        maps='endings = { failed = "removed" }',
        rows=[r.replace("piston,yes", "piston,") for r in LIVES],
    )
    assert said(told(both))[0] == ("11 rows", "11 rows written “failed” are read as removed")


def test_a_map_of_columns_that_hides_the_ending_is_cautioned(tmp_path: Path) -> None:
    rows = [f"{r},{'removed' if ',failed' in r else r.split(',')[2]}" for r in LIVES]
    study = write(
        tmp_path,
        maps='columns = { ending = "fate now" }',
        rows=rows,
        head=f"{HEAD},fate now",
        more=ACCEPT,
    )
    found = told(study)
    # a confirmed piston is a failure by "removed" as well; 4 crankshafts are not confirmed
    assert said(found) == [("4 rows", "4 rows of a column not read tell of failures")]
    (file,) = study.files
    words = read_lives_of(study)[0].readings[0].told
    assert words is not None
    assert words.hidden == (("ending", "ending"),)
    assert undo_maps(words, file, study.settings)["columns.ending"].turned == 4


def test_a_treat_says_how_many_rows_it_took(tmp_path: Path) -> None:
    rows = [*LIVES, "X1,abc,failed,piston,yes", "X2,,failed,piston,yes", "X3,xyz,running,,"]
    more = '[treat]\nhours-unreadable = "set-aside"\nhours-missing = "set-aside"'
    found = told(write(tmp_path, more=more, rows=rows))
    assert {d.key: (d.n, d.effect) for d in found.items} == {
        "treat.hours-unreadable": (2, "2 rows"), "treat.hours-missing": (1, "1 row"),
    }  # fmt: skip
    assert found.lines[0] == (
        "2 kinds of findings are treated as the study says: 3 rows set aside or used."
    )


def test_a_rule_says_what_it_left_out(tmp_path: Path) -> None:
    more = """
[[question.rules]]
cause = "crankshaft"
counts_as = "excluded"
reason = "old forgings"
[[question.rules]]
ending = "running"
source = "nobody"
counts_as = "excluded"
reason = "no such source"
"""
    found = told(write(tmp_path, more=more))
    first, second = only(found, "question.rules[1]"), only(found, "question.rules[2]")
    assert (first.n, first.turned, first.effect) == (4, 4, "4 lives from failure to excluded")
    assert (second.n, second.effect) == (0, "no life counts differently for it")
    assert said(found) == [("4 lives", "4 lives that failed are left out by a rule")]
    assert "old forgings" in found.cautions[0].text


@pytest.mark.parametrize(
    ("question", "key", "effect", "value"),
    [
        ('censoring_causes = ["piston", "prop strike", "sold"]', "question.censoring_causes",
         "7 lives from failure to censored", "7 lives"),
        ('causes = ["piston"]', "question.causes",
         "6 lives from failure to failure from another cause", "6 lives"),
        ('outside_causes = ["cylinder"]', "question.outside_causes",
         "2 lives from failure to failure from another cause", "2 lives"),
        ('level = "power-loss"', "question.level", "2 lives from failure to finding", ""),
    ],
)  # fmt: skip
def test_what_counts_is_told_with_the_lives_it_moved(
    tmp_path: Path, question: str, key: str, effect: str, value: str
) -> None:
    """The level is what is asked, printed with the verdict; it is told and gives no caution."""
    found = told(write(tmp_path, more=f"[question]\n{question}"))
    assert only(found, key).effect == effect
    assert [v for v, _ in said(found)] == ([value] if value else [])


def test_an_unknown_cause_as_competing_is_cautioned(tmp_path: Path) -> None:
    rows = [r.replace("crankshaft", "unknown") for r in LIVES]
    more = '[question]\ncauses = ["piston"]\nunknown_cause = "competing"'
    found = told(write(tmp_path, more=more, rows=rows))
    assert only(found, "question.unknown_cause").turned == 4
    # the 4 of unknown cause hang on the other setting, with a list of causes and without one
    assert only(found, "question.causes").turned == 2


def test_settings_that_hide_only_together_are_found(tmp_path: Path) -> None:
    """Each list alone would still keep the 4 crankshafts from counting."""
    more = """[question]
outside_causes = ["crankshaft"]
censoring_causes = ["crankshaft", "prop strike", "sold"]
"""
    assert said(told(write(tmp_path, more=more))) == [
        ("4 lives", "4 lives that failed are not counted for several settings together")
    ]


def test_a_log_s_words_are_counted_as_written(tmp_path: Path) -> None:
    lines = ["engine,date,hours,kind,cause,confirmed"]
    for i in range(20):
        lines.append(f"L{i},2015-03-01,0,installed,,")
        end = "failed,piston,yes" if i < 6 else "removed,crankshaft,yes" if i < 9 else "reading,,"
        lines.append(f"L{i},2024-05-01,{600 + i},{end}")
    (tmp_path / "lives.csv").write_text("\n".join(lines) + "\n")
    (tmp_path / "study.toml").write_text(
        f'[study]\ntitle = "t"\nanalysis_date = 2026-01-01\n{ACCEPT}[[records]]\n'
        'file = "lives.csv"\nshape = "log"\nkinds = { failed = "reading" }\n'
        'causes = { crankshaft = "accident" }\n'
    )
    found = told(read_study(tmp_path))
    assert said(found) == [
        ("6 rows", "6 rows written “failed” are read as reading"),
        ("3 rows", "3 rows of cause “crankshaft” are read as accident"),
    ]


MAPPED = """
endings = { failed = "planned-overhaul" }
causes = { cylinder = "prop strike" }
"""
CENSORED = '[question]\ncensoring_causes = ["crankshaft", "prop strike", "sold"]'
HALF_MAPPED = 'endings = { found-at-check = "removed" }\ncauses = { piston = "prop strike" }'


def test_a_table_read_by_chunks_tells_the_same(tmp_path: Path) -> None:
    study = write(tmp_path, maps=HALF_MAPPED, more=f"{ACCEPT}[merge]\nreturns = false\n{CENSORED}")
    whole = told(study)
    records, audit, built, chapters, _ = lives_by_chunks(study)
    chunks = list_departures(study, records, audit, built, chapters["bulk"])  # type: ignore[arg-type]
    assert [(d.key, d.n, d.turned) for d in chunks.items] == [
        (d.key, d.n, d.turned) for d in whole.items
    ]
    assert [v for v, _ in said(whole)] == ["7 rows", "2 rows", "4 lives"]
    assert [v.replace("lives", "rows") for v, _ in said(whole)] == [v for v, _ in said(chunks)]


def test_every_face_tells_the_departures(tmp_path: Path) -> None:
    """Prompt, page, JSON and results hold the same lines; paper is looked at by its own test."""
    write(tmp_path / "s", maps=MAPPED, more="[evidence]\nmin_at_risk = 5\nresamples = 300")
    out = tmp_path / "out"
    run = CliRunner().invoke(main, ["study", str(tmp_path / "s"), "--out", str(out), "--quiet"])
    assert run.exit_code in (0, 3), run.output
    results = json.loads((out / "results.json").read_text())
    report = json.loads((out / "report.json").read_text())
    page = (out / "report.html").read_text()
    found = results["chapters"]["departures"]
    assert len(found["items"]) == 4
    (line,) = found["prompt_lines"]
    assert line in run.output
    assert line.startswith("Departures from default: 4 settings, 3 of which can turn a verdict: "
                           "records[1].endings.failed, ")  # fmt: skip
    assert report["chosen"][0] == found["lines"][0]
    assert "“failed” of lives.csv is read as planned overhaul: 12 rows, 11 of them" in page
    assert '<a href="#departures">“Departures from default” (Annex ' in page
    assert sum(c["code"] == "failing-word-mapped" for c in report["cautions"]) == 2
    study_file = results["provenance"]["study_file"]
    assert study_file["name"] == "study.toml"
    assert study_file["sha256"] in page
    assert study_file["sha256"] in (out / "tables" / "files.csv").read_text()


def test_one_map_changes_the_number_of_the_report(tmp_path: Path) -> None:
    from fleetstats.document.identity import report_id
    from fleetstats.studies.analyse import analyse

    results = analyse(write(tmp_path, more="[evidence]\nresamples = 300"))
    (file,) = results.study.files
    mapped = dataclasses.replace(file, endings={"failed": "planned-overhaul"})
    other = dataclasses.replace(results, study=dataclasses.replace(results.study, files=(mapped,)))
    assert report_id(other) != report_id(results)


def test_many_lines_are_cut_with_what_is_left(tmp_path: Path) -> None:
    more = """confidence = 0.8
seed = 5
[question]
causes = ["piston"]
level = "power-loss"
[targets]
reliability = 0.5
[evidence]
min_at_risk = 3
prior_source = "a hunch"
prior_shape_median = 6
method = "profile"
"""
    found = told(write(tmp_path, more=more))
    assert len(found.items) == 9
    assert len(found.lines) == 7
    assert found.lines[-1] == (
        "3 further departures from defaults, 2 of which can turn a verdict: see “Departures from "
        "default” in the report."
    )
