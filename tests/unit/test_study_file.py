"""The study file is read strictly: every wrong key or value is named, with what would be right."""

from __future__ import annotations

import datetime as dt
import os
import tomllib
from pathlib import Path

import pytest

from fleetstats.core.errors import SettingError
from fleetstats.study.assumptions import assumptions
from fleetstats.study.study import read_study

HEAD = '[study]\ntitle = "T"\nanalysis_date = 2025-12-31\n'
FILE = '[[records]]\nfile = "a.csv"\n'


@pytest.fixture
def problems(tmp_path):
    """Return the problems of a study file; [] when it is read."""
    (tmp_path / "a.csv").write_text("engine,exit_hours,ending\nE1,5,running\n", encoding="utf-8")
    (tmp_path / "b.csv").write_text("engine,exit_hours,ending\nE2,5,running\n", encoding="utf-8")

    def of(text):
        (tmp_path / "study.toml").write_text(text, encoding="utf-8")
        try:
            read_study(tmp_path)
        except SettingError as e:
            return list(e.problems) or [e.message]
        return []

    return of


WRONG = [
    # what stands in the file, what the problem must say
    ("[studdy]\n", "studdy: unknown table. Did you mean 'study'?"),
    ("[question]\nlevle = 'power-loss'\n", "question.levle: unknown key. Did you mean 'level'?"),
    (
        "[question]\nlevel = 'power-lost'\n",
        'question.level = "power-lost": must be one of "power-loss", "confirmed-removal", '
        '"beyond-limits", "top-end", "accessory". Did you mean \'power-loss\'?',
    ),
    ("[check]\ninterval_h = 0\n", "check.interval_h = 0: must be at least 0.01."),
    ("[check]\ninterval_h = '50'\n", 'check.interval_h = "50": must be a number, without'),
    ("[check]\ninterval_h = nan\n", "check.interval_h = nan: must be a finite number."),
    ("[check]\ninterval_h = inf\n", "check.interval_h = inf: must be a finite number."),
    ("[check]\ninterval_h = true\n", "check.interval_h = true: must be a number"),
    ("[check]\ndetection = 1.5\n", "check.detection = 1.5: must be above 0 and at most 1."),
    ("[cost]\nratio = 1\n", "cost.ratio = 1: must be above 1."),
    ("[evidence]\nmin_at_risk = 2.5\n", "evidence.min_at_risk = 2.5: must be a whole number."),
    (
        "[evidence]\nresamples = 10\n",
        "evidence.resamples = 10: must be at least 200 and at most 200000.",
    ),
    ("[evidence]\nshapes = []\n", "evidence.shapes = []: must be 1 to 20 shapes"),
    ("[evidence]\nshapes = [1, 'a']\n", 'evidence.shapes = [1, "a"]: item 2, "a": must be a num'),
    ("[evidence]\nshapes = 2\n", "evidence.shapes = 2: must be a list in square brackets."),
    ("[groups]\nmargin = [0.8]\n", "groups.margin = [0.8]: must be two ratios about 1"),
    ("[groups]\nmargin = [1.1, 1.2]\n", "groups.margin = [1.1, 1.2]: must be two ratios"),
    ("[groups]\nby = ['bild']\n", "groups.by: unknown group 'bild'. Did you mean 'build'?"),
    ("[groups]\ncovariates = ['engine']\n", "groups.covariates: 'engine' cannot be the name"),
    ("[hours]\nunit = 'hours'\n", 'hours.unit = "hours": must be one of "h", "min".'),
    (
        "[hours.factors]\ntacho = 1.0\n",
        "hours.factors.tacho: unknown meter kind. Did you mean 'tach'?",
    ),
    ("[hours.factors]\nflight = 1.0\n", "hours.factors.flight: 'flight' is the standard clock"),
    ("[hours.factors]\ntach = 9\n", "hours.factors.tach = 9: must be a factor between 0.2 and 5"),
    ("[hours.factors]\ntach = [1.0, 1.1, 1.2]\n", "must be a factor between 0.2 and 5, alone or"),
    (
        "[[question.rules]]\nending = 'faild'\ncounts_as = 'failure'\nreason = 'x'\n",
        "question.rules[1].ending = \"faild\": unknown ending. Did you mean 'failed'?",
    ),
    (
        "[[question.rules]]\nending = 'failed'\ncounts_as = 'fail'\nreason = 'x'\n",
        'question.rules[1].counts_as = "fail": must be one of failure, competing',
    ),
    (
        "[[question.rules]]\nending = 'failed'\ncounts_as = 'excluded'\n",
        "question.rules[1].reason: is missing.",
    ),
    (
        "[[question.rules]]\ncounts_as = 'excluded'\nreason = 'x'\n",
        "question.rules[1]: names no condition.",
    ),
    (
        "[question]\nlevel = 'accessory'\n",
        'question.causes: is empty. At level "accessory" it must name the causes',
    ),
    (
        "[question]\ncauses = ['Accident']\n",
        "question.causes: 'accident' is among the censoring causes too.",
    ),
    (
        "[treat]\nduplicate-lif = 'set-aside'\n",
        "treat.duplicate-lif: unknown kind of finding. Did you mean 'duplicate-life'?",
    ),
    (
        "[treat]\nduplicate-life = 'ignore'\n",
        'treat.duplicate-life = "ignore": must be one of stop, set-aside, accept.',
    ),
    ("[treat]\nduplicate-life = 3\n", "'duplicate-life' = 3: must be a text"),
    (
        "[treat]\nhours-unreadable = 'accept'\n",
        'treat.hours-unreadable = "accept": such a row cannot be used as it stands',
    ),
    ("[treat]\nfile-unreadable = 'accept'\n", "treat.file-unreadable: concerns a whole file"),
    (
        "[fleet]\nserials_file = 'none.csv'\n",
        'fleet.serials_file = "none.csv": is not there.',
    ),
    ("[fleet]\nbuilt = 0\n", "fleet.built = 0: must be at least 1."),
    ("study = 3\n", None),
]


@pytest.mark.parametrize(("text", "said"), WRONG[:-1], ids=[w[0][:40] for w in WRONG[:-1]])
def test_each_wrong_setting_is_named_with_what_is_right(problems, text, said):
    found = problems(HEAD + text + FILE)
    assert len(found) == 1, found
    assert said in found[0]


HEADS = [
    ("", "study.title: is missing."),
    ("[study]\nanalysis_date = 2025-12-31\n", "study.title: is missing."),
    ('[study]\ntitle = "T"\n', "study.analysis_date: is missing."),
    ('[study]\ntitle = " "\nanalysis_date = 2025-12-31\n', "study.title: is empty. Title of"),
    ("[study]\ntitle = 3\nanalysis_date = 2025-12-31\n", "study.title = 3: must be a text"),
    (
        '[study]\ntitle = "T"\nanalysis_date = "2025-12-31"\n',
        'study.analysis_date = "2025-12-31": must be a date without quotation marks',
    ),
    (
        '[study]\ntitle = "T"\nanalysis_date = 2025-12-31T10:00:00\n',
        "study.analysis_date = 2025-12-31T10:00:00: must be a date",
    ),
    ('[study]\ntitle = "T"\nanalysis_date = 1925-12-31\n', "must be a date between 1950 and 2199"),
    (HEAD + "confidence = 1.0\n", "study.confidence = 1.0: must be above 0 and below 1."),
    (HEAD + "confidence = 90\n", "study.confidence = 90: must be above 0 and below 1."),
    (HEAD + "seed = -1\n", "study.seed = -1: must be at least 0."),
    (HEAD + f"seed = {2**70}\n", "must fit in 63 bits."),
    (HEAD + 'reader = "owner"\n', 'must be one of "builder", "club", "inspector".'),
    ("study = 3\n", "study: must be a table ([study]), not 3."),
]


@pytest.mark.parametrize(("head", "said"), HEADS, ids=range(len(HEADS)))
def test_the_study_table_is_checked(problems, head, said):
    assert any(said in p for p in problems(head + FILE))


FILES = [
    ("", "records: is missing. Name each record file in a table [[records]]."),
    ("[records]\nfile = 'a.csv'\n", "records: write [[records]] with two brackets"),
    ("[[records]]\nshape = 'lives'\n", "records[1].file: is missing."),
    ("[[records]]\nfile = ''\n", "records[1].file: is empty. File with records"),
    (
        FILE + "shape = 'log'\ncolumns = { hour = 'TT' }\n",
        "records[1].columns.hour: unknown column of ours. Did you mean 'hours'?",
    ),
    (
        FILE + "shape = 'log'\nkinds = { swap = 'instaled' }\n",
        'records[1].kinds."swap" = "instaled": unknown event of a log. Did you mean \'installed\'?',
    ),
    ("[[records]]\nfile = 'c.csv'\n", "records[1].file = \"c.csv\": is not there. Did you mean"),
    ("[[records]]\nfile = '../a.csv'\n", "must be a path within the study's folder"),
    ("[[records]]\nfile = '/etc/passwd'\n", "must be a path within the study's folder"),
    ("[[records]]\nfile = 'C:\\x.csv'\n", "must be a path within the study's folder"),
    ("[[records]]\nfile = '..\\a.csv'\n", "must be a path within the study's folder"),
    ("[[records]]\nfile = '~/a.csv'\n", "must be a path within the study's folder"),
    ("[[records]]\nfile = '.'\n", "records[1].file = \".\": is not there."),
    (FILE + FILE, "records[2].file = \"a.csv\": is named by records[1] as well."),
    (FILE + "shape = 'live'\n", "records[1].shape = \"live\": must be one of \"lives\", \"log\""),
    (FILE + "delimiter = ':'\n", 'records[1].delimiter = ":": must be one of'),
    (FILE + "encoding = 'utf-88'\n", 'records[1].encoding = "utf-88": no such encoding.'),
    (FILE + "encoding = 'base64'\n", "no such encoding."),
    (FILE + "meter = 'tach'\n", "records[1].meter = \"tach\": hours.factors.tach is missing."),
    (
        FILE + "columns = { exit_hour = 'TT' }\n",
        "records[1].columns.exit_hour: unknown column of ours. Did you mean 'exit_hours'?",
    ),
    (
        FILE + "columns = { exit_hours = 'TT', entry_hours = 'TT' }\n",
        "records[1].columns: 'TT' is mapped to two columns of ours.",
    ),
    (
        FILE + "endings = { 'kaputt' = 'faild' }\n",
        'records[1].endings."kaputt" = "faild": unknown ending. Did you mean \'failed\'?',
    ),
    (FILE + "columns = { exit_hours = 3 }\n", "'exit_hours' = 3: must be a text"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said"), FILES, ids=range(len(FILES)))
def test_the_record_files_are_checked(problems, text, said):
    found = problems(HEAD + text)
    assert any(said in p for p in found), found


def test_a_link_out_of_the_folder_is_refused(problems, tmp_path_factory, tmp_path):
    outside = tmp_path_factory.mktemp("outside") / "x.csv"
    outside.write_text("engine\n", encoding="utf-8")
    (tmp_path / "link.csv").symlink_to(outside)
    found = problems(HEAD + '[[records]]\nfile = "link.csv"\n')
    assert found == ['records[1].file = "link.csv": leads out of the study\'s folder.']


def test_everything_wrong_is_told_at_once(problems):
    found = problems(
        HEAD + "confidense = 0.9\n[check]\ninterval_h = -1\n[[records]]\nfile = 'zz.csv'\n"
    )
    assert [p.split(" ")[0].rstrip(":") for p in found] == [
        "study.confidense",
        "check.interval_h",
        "records[1].file",
    ]


TOML = [
    ("[study\n", "line 1"),
    (HEAD + "x = \n", "line 4"),
    (HEAD + 'x = "a\n', "line 4"),
    ("a = 1\na = 2\n", "line 2"),
]


@pytest.mark.parametrize(("text", "line"), TOML)
def test_a_slip_in_the_notation_is_named_with_its_line(problems, text, line):
    (said,) = problems(text)
    assert said.startswith(f"study.toml {line}: ")


def test_text_that_is_not_utf8_is_named_with_its_line(tmp_path):
    (tmp_path / "study.toml").write_bytes(b'[study]\ntitle = "caf\xe9"\n')
    with pytest.raises(SettingError, match=r"study.toml line 2: the text is not UTF-8"):
        read_study(tmp_path)


def test_deep_brackets_and_long_files_are_refused(tmp_path):
    (tmp_path / "study.toml").write_text("a = " + "[" * 50_000, encoding="utf-8")
    with pytest.raises(SettingError):
        read_study(tmp_path)
    (tmp_path / "study.toml").write_text("#" * (2**20 + 1), encoding="utf-8")
    with pytest.raises(SettingError, match="1,048,577 bytes, and the limit is 1 MiB"):
        read_study(tmp_path)


def test_a_missing_study_is_named(tmp_path):
    with pytest.raises(SettingError, match="There is no study file"):
        read_study(tmp_path / "nowhere")
    with pytest.raises(SettingError, match="There is no study file"):
        read_study(tmp_path)


def test_defaults_hold_and_what_was_chosen_is_known(make_study):
    study = make_study(settings="claimed_interval_h = 1200\n[check]\ninterval_h = 25\n")
    assert study.settings.study.confidence == 0.90
    assert study.settings.study.analysis_date == dt.date(2025, 12, 31)
    assert study.settings.study.claimed_interval_h == 1200.0
    assert study.chosen == {
        "study.title",
        "study.analysis_date",
        "study.claimed_interval_h",
        "check.interval_h",
    }
    told = {a.key: a for a in assumptions(study.settings, study.chosen)}
    assert told["check.interval_h"].chosen
    assert told["check.interval_h"].default == 50.0
    assert told["check.interval_h"].text == "25"
    assert told["check.interval_h"].unit == "h"
    assert not told["study.confidence"].chosen
    assert told["targets.risk_per_check"].text == "not set"
    assert told["study.analysis_date"].default_text == "must be given"
    assert told["treat"].text == "none"


def test_every_setting_says_what_it_means(make_study):
    told = assumptions((s := make_study()).settings, s.chosen)
    assert len(told) > 50
    assert all(a.doc.strip() for a in told)
    assert len({a.key for a in told}) == len(told)


def test_a_study_does_not_give_its_place_away(make_study, tmp_path):
    assert str(tmp_path) not in str(make_study().to_dict())


def test_a_byte_order_mark_before_the_study_is_no_harm(problems):
    assert problems("\ufeff" + HEAD + FILE) == []


def test_the_toml_of_these_tests_is_toml():
    for text, _ in WRONG:
        tomllib.loads(text)


def test_a_record_file_that_is_a_pipe_or_a_folder_is_told_so(tmp_path: Path) -> None:
    """Neither is missing; the folder's cure is the pattern that reads it."""
    (tmp_path / "study.toml").write_text(
        "[study]\ntitle = 'x'\nanalysis_date = 2026-01-31\n"
        "[[records]]\nfile = 'pipe.csv'\n[[records]]\nfile = 'back'\n",
        "utf-8",
    )
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "back").mkdir()
    (tmp_path / "back" / "a.csv").write_text("engine,exit_hours,ending\n", "utf-8")
    with pytest.raises(SettingError) as told:
        read_study(tmp_path)
    pipe, back = told.value.problems
    assert pipe.startswith('records[1].file = "pipe.csv": is a pipe, no regular file.')
    assert back.endswith("is a folder, no regular file. A slash at its end means every file in it.")
    text = (tmp_path / "study.toml").read_text("utf-8").replace("'back'", "'back/'")
    (tmp_path / "pipe.csv").unlink()
    (tmp_path / "pipe.csv").write_text("engine,exit_hours,ending\n", "utf-8")
    (tmp_path / "study.toml").write_text(text, "utf-8")
    assert [f.file for f in read_study(tmp_path).files] == ["pipe.csv", "back/a.csv"]
