"""Guesses on raw files: what stands, what is left open, and that nothing hides a failure.

Words of other languages are common practice, no source; the sheets are invented.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.core.errors import SettingError
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.guess.guess import Given, Guess, GuessedSheet
from fleetstats.records.guess.kept import count_guesses, drop_open, keep_guesses
from fleetstats.records.guess.sheet import ReadSheet
from fleetstats.records.guess.study import guess_study, name_files, read_grid
from fleetstats.records.guess.write import begin_from_files, study_text
from fleetstats.records.readers import read_records
from fleetstats.study.carry import begin_from
from fleetstats.study.scaffold import toml_text
from fleetstats.study.study import read_study
from fleetstats.tables.grid import open_grids
from fleetstats.vocabulary.trouble import FAILURE, hint_of, may_hint

TODAY = dt.date(2026, 1, 31)
HEAD = "Serial no,Hours,Status,Cause,Last reading,Note"


def text_file(folder: Path, *lines: str, name: str = "raw.csv") -> Path:
    path = folder / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def only(path: Path) -> GuessedSheet:
    (sheet,) = guess_study([path], today=TODAY).sheets
    return sheet


def named(guesses: tuple[Guess, ...]) -> dict[str, Guess]:
    return {g.what: g for g in guesses}


@pytest.mark.parametrize(
    "head",
    [
        "Serial no,Total time,Status,Reason,Last reading",
        "Motornummer,Betriebsstunden,Zustand,Ursache,Letzte Ablesung",
        "N° de série,Heures de fonctionnement,État,Motif,Relevé le",
        "Número de serie,Horas totales,Estado,Causa,Fecha de lectura",
        "Matricola,Ore totali,Stato,Causa,Ultima lettura",
        "Serienummer,Draaiuren,Toestand,Oorzaak,Datum aflezing",
        "serial NO.,Total Time [h],STATUS,reason,Last reading (date)",
    ],
)
def test_the_columns_are_known_in_six_languages(tmp_path: Path, head: str) -> None:
    path = text_file(tmp_path, head, *(f"A-{i},{400.5 + i},running,,2025-06-0{i}"
                                       for i in range(1, 7)))  # fmt: skip
    told = named(only(path).columns)
    wanted = ("engine", "exit_hours", "ending", "cause", "last_reading_date")
    assert [told[n].value for n in wanted] == head.split(",")
    assert all(told[n].sure == "sure" for n in wanted[:3])


def test_names_stand_under_titles_and_spanning_cells(tmp_path: Path) -> None:
    lines = ["Our fleet,,,", ",,,", "as of May,,,", "Engine,,Life,", "Serial no,Build,TT,Status",
             "A-1,B1,500.5,running", "A-2,B1,610.5,running"]  # fmt: skip
    sheet = only(text_file(tmp_path, *lines))
    assert (sheet.header_row, sheet.header_stated) == (5, True)


def test_known_names_weigh_more_than_figures_below_a_line(tmp_path: Path) -> None:
    lines = ["Form,Year,Page,Issue", "7,2025,1,2", "Serial no,TT,Status,Cause",
             "A-1,500,running,", "A-2,600,failed,piston", "A-3,600,running,"]  # fmt: skip
    assert only(text_file(tmp_path, *lines)).header_row == 3


def test_marks_of_quotation_stay_text_in_the_study_file(tmp_path: Path) -> None:
    head = 'Stunden "alt"'
    book = openpyxl.Workbook()
    book.active.title = 'The "best"'
    book.active.append(["Serial no", head, "Status", "Last reading"])
    for k in range(3):
        book.active.append([f"A-{k}", 500.5 + k, "running", dt.date(2025, 1, 1)])
    book.save(tmp_path / "fleet.xlsx")
    begin_from_files(tmp_path / "new", [tmp_path / "fleet.xlsx"], today=TODAY)
    (file,) = read_study(tmp_path / "new").files
    assert (file.sheet, file.columns["exit_hours"]) == ('The "best"', head)


def test_days_on_which_engines_began_set_no_day_of_analysis(tmp_path: Path) -> None:
    """ "Last heard" is a day up to which the records tell; a day in service is none."""
    rows = ("A-1,500,running,2019-05-01,2025-03-02", "A-2,610,running,2024-04-01,2025-02-01")
    head = "Serial no,TT,Status,In service since,"
    heard = guess_study([text_file(tmp_path, f"{head}Last heard", *rows)], today=TODAY)
    assert named(heard.settings)["study.analysis_date"].value == "2025-03-02"
    (tmp_path / "b").mkdir()
    bare = guess_study([text_file(tmp_path / "b", f"{head}Whatever", *rows)], today=TODAY)
    assert named(bare.settings)["study.analysis_date"].sure == "open"


def test_figures_in_words_make_a_column_of_hours(tmp_path: Path) -> None:
    cells = ["approx 800", "~1050", "ca. 900", ">1500", "1200-1300", "771hrs", "1.2k"]
    sheet = only(text_file(tmp_path, "Serial no,TT,Status",
                           *(f"A-{i},{c},running" for i, c in enumerate(cells))))  # fmt: skip
    assert named(sheet.columns)["exit_hours"].sure == "sure"


def test_figures_in_words_are_each_told_by_the_audit(tmp_path: Path) -> None:
    """Each way of writing is told, and none is read as one number."""
    cells = ["approx 800", "~1050", ">1500", "1200-1300"]
    rows = [f"A-{i},{c},running,2025-01-01" for i, c in enumerate(["500", *cells])]
    path = text_file(tmp_path, "Serial no,TT,Status,Last reading", *rows)
    begin_from_files(tmp_path / "new", [path], today=TODAY)
    study = read_study(tmp_path / "new")
    found = audit_records(study, read_records(study)).findings
    told = [f.message for f in found if f.code == "hours-in-words"]
    assert len(told) == 3  # about, at least, a range
    assert any("in 2 cells" in m for m in told)


def test_the_cells_tell_where_the_name_does_not(tmp_path: Path) -> None:
    sheet = only(text_file(tmp_path, "Serial no,TT,What is up", "A-1,500,running",
                           "A-2,610,failed", "A-3,300,sold"))  # fmt: skip
    assert named(sheet.columns)["ending"].value == "What is up"


def test_words_of_failure_are_left_open_and_others_stand(tmp_path: Path) -> None:
    words = ("running", "verkauft", "kaputt", "en panne", "guasto", "averiado", "kapot",
             "überholt", "conked", "retried")  # fmt: skip
    rows = [f"A-{i},5{i}0,{w},,2025-01-0{i + 1}," for i, w in enumerate(words)]
    told = named(only(text_file(tmp_path, HEAD, *rows)).endings)
    assert (told["running"].sure, told["running"].known) == ("sure", True)
    assert (told["verkauft"].value, told["verkauft"].sure) == ("removed", "likely")
    left = [w for w in words[2:] if told[w].sure == "open"]
    assert left == list(words[2:])
    assert all(told[w].alternatives[0] == "failed" for w in words[2:7])
    assert told["überholt"].alternatives[0] == "planned-overhaul"


def test_a_word_is_left_open_where_its_row_tells_of_a_failure(tmp_path: Path) -> None:
    rows = ["A-1,500,verkauft,,2025-01-01,", "A-2,600,verkauft,,2025-01-02,failed at 590 h"]
    told = named(only(text_file(tmp_path, HEAD, *rows)).endings)["verkauft"]
    assert (told.sure, told.alternatives[0]) == ("open", "removed")
    assert "row 3" in told.reason


def test_a_cause_that_excuses_a_failure_is_left_open(tmp_path: Path) -> None:
    sold = "A-1,500,removed,Propellerberührung,2025-01-01,"
    rows = [HEAD, sold, "A-2,600,removed,Kurbelwelle,2025-01-02,"]
    told = named(only(text_file(tmp_path, *rows)).causes)
    assert (told["Propellerberührung"].value, told["Propellerberührung"].sure) == (
        "prop strike", "likely")  # fmt: skip
    assert told["Kurbelwelle"].value == "crankshaft"
    more = text_file(tmp_path, *rows, "A-3,610,failed,Propellerberührung,2025-01-03,")
    assert named(only(more).causes)["Propellerberührung"].sure == "open"


def test_rows_without_a_word_stop_the_study_until_answered(tmp_path: Path) -> None:
    rows = ["A-1,500,failed,piston,2025-01-01,", "A-2,600,,,2025-01-02,", "A-3,700,,,2025-01-03,"]
    path = text_file(tmp_path, HEAD, *rows)
    folder = tmp_path / "new"
    (asked,) = (g for _, g in begin_from_files(folder, [path], today=TODAY).open_guesses)
    assert (asked.what, asked.n_rows) == ("ending-missing", 2)
    study = read_study(folder)
    assert not audit_records(study, read_records(study)).ok
    toml = folder / "study.toml"
    text = toml.read_text(encoding="utf-8")
    toml.write_text(text.replace('# ending-missing = "…"', 'ending-missing = "accept"'))
    study = read_study(folder)
    assert audit_records(study, read_records(study)).ok


def test_a_column_of_failures_that_is_not_used_is_told(tmp_path: Path) -> None:
    path = text_file(tmp_path, "Serial no,TT,Status,Failed at,Fuse failed", "A-1,500,running,,no",
                     "A-2,600,running,480,no")  # fmt: skip
    guessed = guess_study([path], today=TODAY)
    told = {g.what: g for _, g in guessed.open_guesses}
    assert "Fuse failed" not in told
    assert told["Failed at"].reason == "its head tells of failures, and 1 cell is filled"
    assert '# OPEN: not used: "Failed at"' in study_text(guessed)


def test_what_another_meaning_would_do_to_the_counts(tmp_path: Path) -> None:
    rows = [f"A-{i},500,{w},,2025-01-01," for i, w in enumerate(["running", "kaputt", "verkauft"])]
    sheet = only(text_file(tmp_path, HEAD, *rows))
    assert (sheet.counts.by_word, sheet.counts.n_open) == ({"removed": 1, "running": 1}, 1)
    failed = sheet.if_meant("kaputt", "failed")
    assert (failed.by_word["failed"], failed.n_open) == (1, 0)
    left = sheet.if_meant("verkauft", "")
    assert (left.by_word, left.n_open) == ({"running": 1}, 2)


def test_a_word_that_somebody_gave_a_meaning_is_counted_so(tmp_path: Path) -> None:
    rows = [f"A-{i},500,{w},,2025-01-01," for i, w in enumerate(["running", "kaputt", "verkauft"])]
    sheet = only(text_file(tmp_path, HEAD, *rows))
    told = sheet.with_words({"KAPUTT": "failed", "verkauft": "lost", "not there": "failed"})
    assert told.counts.by_word == {"running": 1, "failed": 1, "lost": 1}
    assert told.counts.n_open == 0
    assert {g.what: (g.value, g.stands) for g in told.endings}["kaputt"] == ("failed", True)
    assert sheet.with_words({}) == sheet


def test_what_is_given_of_a_sheet_is_not_guessed(tmp_path: Path) -> None:
    """A line, a shape and a column that are said win over every guess, and the rest follows."""
    path = text_file(tmp_path, "Serial no,Hours,Status,Fate", "A-1,500,running,kaputt",
                     "A-2,600,sold,in service")  # fmt: skip
    (grid,) = open_grids(path, "raw.csv")
    free, said = read_grid(grid), read_grid(grid, Given(columns={"ending": "Fate"}))
    assert isinstance(free, ReadSheet)
    assert isinstance(said, ReadSheet)
    assert {g.what for g in free.sheet.endings} == {"running", "sold"}
    assert {g.what for g in said.sheet.endings} == {"kaputt", "in service"}
    assert named(said.sheet.columns)["ending"].sure == "sure"
    lower = read_grid(grid, Given(header_row=2, shape="log"))
    assert isinstance(lower, ReadSheet)
    assert (lower.sheet.header_row, lower.sheet.shape.value) == (2, "log")
    nowhere = read_grid(grid, Given(header_row=9))  # a cell tells of a failure: not passed over
    assert isinstance(nowhere, ReadSheet)
    assert not nowhere.sheet.shape.stands


def test_guesses_that_were_looked_at_are_marked_and_nothing_else_changes(tmp_path: Path) -> None:
    word = toml_text('gone"    # likely: "')
    evil = f'{word} = "lost"    # likely: a word made to look like a remark.'
    rows = ("A-1,500,verkauft,,2025-01-01,", "A-2,600,kaputt,,2025-01-02,")
    path = text_file(tmp_path, HEAD, *rows)
    text = study_text(guess_study([path], today=TODAY))
    text = text.replace("[records.endings]\n", f"[records.endings]\n{evil}\n")
    kept = keep_guesses(text, 1)
    assert tomllib.loads(kept) == tomllib.loads(text)
    assert (count_guesses(kept, 1), count_guesses(text, 2)) == (0, 0)
    changed = [(a, b) for a, b in zip(text.split("\n"), kept.split("\n"), strict=True) if a != b]
    assert len(changed) == count_guesses(text, 1) >= 4
    for before, after in changed:
        at = before.rindex("    # ")  # behind the value
        assert after[: at + 6] == before[: at + 6]
        assert after[at + 6 :].startswith("kept: ")
    assert keep_guesses(text, 2) == text


def test_an_open_line_goes_once_it_is_answered(tmp_path: Path) -> None:
    path = text_file(
        tmp_path, HEAD, "A-1,500,kaputt,,2025-01-01,", "A-2,600,gone west,,2025-01-02,"
    )
    text = study_text(guess_study([path], today=TODAY))
    assert text.count('= "…"') == 2
    out = drop_open(text, 1, "endings", "kaputt")
    assert [x for x in text.split("\n") if x not in out.split("\n")] == [
        x for x in text.split("\n") if x.startswith('# "kaputt"')
    ]
    for place in ((2, "endings", "kaputt"), (1, "kinds", "kaputt"), (1, "endings", "other")):
        assert drop_open(text, *place) == text


def test_yes_and_no_mean_what_the_head_asks(tmp_path: Path) -> None:
    asks = "Serial no,TT,{}", "A-1,500,yes", "A-2,600,no"
    failed = named(only(text_file(tmp_path, asks[0].format("Failed?"), *asks[1:])).endings)
    assert (failed["yes"].value, failed["no"].value) == ("failed", "running")
    runs = named(only(text_file(tmp_path, asks[0].format("Status"), *asks[1:])).endings)
    assert {g.sure for g in runs.values()} == {"open"}


def test_marks_and_dates_that_may_be_read_twice_are_left_open(tmp_path: Path) -> None:
    rows = ["A-1;1,200;running;03/04/2025", "A-2;1,100;running;05/06/2025"]
    told = named(only(text_file(tmp_path, "Serial no;TT;Status;Last reading", *rows)).settings)
    assert told["decimal"].sure == told["date_order"].sure == "open"
    rows = ["A-1;1200,5;running;03/04/2025", "A-2;1100,5;running;05/06/2025"]
    told = named(only(text_file(tmp_path, "Serial no;TT;Status;Last reading", *rows)).settings)
    assert (told["date_order"].value, told["date_order"].sure) == ("day-first", "likely")


def test_two_meters_ask_for_the_factor(tmp_path: Path) -> None:
    files = [text_file(tmp_path, f"Serial no,{m} hours,Status,Last reading",
                       *(f"{m[0]}-{i},50{i},running,2025-01-01" for i in range(n)),
                       name=f"{m}.csv") for m, n in (("Tach", 5), ("Hobbs", 3))]  # fmt: skip
    folder = tmp_path / "new"
    told = named(begin_from_files(folder, files, today=TODAY).settings)
    assert told["hours.meter"].value == "tach"
    assert told["hours.factors"].sure == "open"
    with pytest.raises(SettingError, match=r"hours\.factors\.hobbs is missing"):
        read_study(folder)


def test_a_sheet_of_prose_that_tells_of_a_failure_is_not_passed_over(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["Serial no", "TT", "Status", "Last reading"])
    book.active.append(["A-1", 500, "running", dt.date(2025, 1, 1)])
    book.create_sheet("Calm").append(["Nothing to tell"])
    book.create_sheet("Memo").append(["A-9 failed at 300 h"])
    path = tmp_path / "fleet.xlsx"
    book.save(path)
    guessed = begin_from_files(tmp_path / "new", [path], today=TODAY)
    assert [p.sheet for p in guessed.passed] == ["Calm"]
    assert guessed.sheets[1].shape.sure == "open"
    with pytest.raises(SettingError, match="shape"):
        read_study(tmp_path / "new")


def test_a_sheet_that_was_not_read_stops_the_study(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fleetstats.tables.grid.MAX_SHEETS", 1)
    book = openpyxl.Workbook()
    for sheet in (book.active, book.create_sheet("More")):
        sheet.append(["Serial no", "TT", "Status", "Last reading"])
        sheet.append(["A-1", 500, "failed", dt.date(2025, 1, 1)])
    book.save(tmp_path / "fleet.xlsx")
    guessed = begin_from_files(tmp_path / "new", [tmp_path / "fleet.xlsx"], today=TODAY)
    assert "was not read" in guessed.sheets[1].shape.reason
    with pytest.raises(SettingError, match="shape"):
        read_study(tmp_path / "new")


def test_a_last_date_far_after_all_others_is_not_taken(tmp_path: Path) -> None:
    rows = ["A-1,500,running,,2023-01-01,", "A-2,600,running,,2023-01-02,",
            "A-3,600,running,,2025-12-30,", "A-4,600,running,,2052-01-02,"]  # fmt: skip
    told = named(guess_study([text_file(tmp_path, HEAD, *rows)], today=TODAY).settings)
    assert told["study.analysis_date"].sure == "open"
    told = named(guess_study([text_file(tmp_path, HEAD, *rows[:2])], today=TODAY).settings)
    assert told["study.analysis_date"].value == "2023-01-02"


def test_the_same_files_give_the_same_study_file(tmp_path: Path) -> None:
    path = text_file(tmp_path, HEAD, "A-1,500,kaputt,,2025-01-01,", "A-2,600,läuft,,2025-01-02,")
    first, again = (study_text(guess_study([path], today=TODAY)) for _ in range(2))
    assert first == again


def test_next_year_needs_nothing(tmp_path: Path) -> None:
    path = text_file(tmp_path, HEAD, "A-1,500,verkauft,,2025-01-01,", name="fleet.csv")
    begin_from_files(tmp_path / "old", [path], today=TODAY)
    begin_from(tmp_path / "next", tmp_path / "old")
    text = (tmp_path / "next" / "study.toml").read_text(encoding="utf-8")
    assert '"verkauft" = "removed"' in text
    assert "\nanalysis_date" not in text


def test_files_of_one_name_are_told_apart_and_odd_names_made_plain(tmp_path: Path) -> None:
    paths = [Path("a/x.csv"), Path("b/X.csv"), Path("~evil?.csv"), Path("study.toml")]
    assert list(name_files(paths)) == ["x.csv", "X-2.csv", "evil.csv", "study-2.toml"]


def test_nothing_is_overwritten_and_nothing_left_behind(tmp_path: Path) -> None:
    path = text_file(tmp_path, HEAD, "A-1,500,running,,2025-01-01,")
    folder = tmp_path / "new"
    folder.mkdir()
    (folder / "raw.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(SettingError, match="is there already"):
        begin_from_files(folder, [path], today=TODAY)
    assert [p.name for p in folder.iterdir()] == ["raw.csv"]
    inside = text_file(folder, HEAD, "A-1,500,running,,2025-01-01,", name="own.csv")
    begin_from_files(folder, [inside], today=TODAY)
    assert sorted(p.name for p in folder.iterdir()) == ["own.csv", "raw.csv", "study.toml"]


def test_the_verb_tells_files_from_an_earlier_study(tmp_path: Path) -> None:
    run = CliRunner().invoke
    a = text_file(tmp_path, HEAD, "A-1,500,kaputt,,2025-01-01,", name="a.csv")
    b = text_file(tmp_path, HEAD, "B-1,500,running,,2025-01-01,", name="b.csv")
    new = tmp_path / "new"
    got = run(main, ["begin", str(new), "--from", str(a), str(b)])
    assert got.exit_code == 0, got.output
    assert "OPEN: a.csv: kaputt" in got.output
    assert [f.file for f in read_study(new).files] == ["a.csv", "b.csv"]
    assert run(main, ["begin", str(tmp_path / "y"), "--from", str(new)]).exit_code == 0
    for words in ([str(new), "--from", str(new), str(a)], [str(tmp_path / "z"), str(a)],
                  [str(tmp_path / "z"), "--from", str(tmp_path / "no.csv")],
                  [str(a), "--from", str(b)]):  # fmt: skip
        assert run(main, ["begin", *words]).exit_code == 2, words


@pytest.mark.parametrize(
    "word",
    ["motorausfall", "kolbenfresser", "défaillance", "grippée", "avería", "averiado", "biela rota",
     "falló", "guasto", "avaria", "rotto", "storing", "kapot", "uitgevallen", "vastgelopen"],
)  # fmt: skip
def test_words_of_failure_of_other_languages_hint(word: str) -> None:
    hint = hint_of(f"2019 {word}, 700 h")
    assert hint is not None
    assert hint.grade == FAILURE
    assert may_hint(word)
