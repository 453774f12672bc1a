"""Next year's study begun from last year's: everything carried but dates, nothing overwritten."""

from __future__ import annotations

import shutil
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.core.errors import SettingError
from fleetstats.study.carry import LAST_LINE, begin_from
from fleetstats.study.history import HISTORY_FILE, LedgerLook, append_look, read_history
from fleetstats.study.leaves import settings_digest
from fleetstats.study.study import read_study

DATASETS = Path(__file__).parents[2] / "datasets"

STUDY = """\
# agreed at the meeting of members
[study]
title = "Club engines 2025"
analysis_date = 2025-12-31   # end of season
claimed_interval_h = 1200

[question]
rules = [{ ending = "removed", cause = "ad", counts_as = "censored", reason = "a directive" }]

[forecast]
months = 6
backtest_date = 2024-06-30

[treat]
date-future = "set-aside"

[[merge.decisions]]
engine = "E-1"
take = "club-2025.csv row 2"
reason = "asked the owner"

[[records]]
file = "club-2025.csv"
source = "club A"
observed_from = 2015-01-01
[records.columns]
engine = "Serial"
exit_hours = "Total"
[records.endings]
"still going" = "running"
[records.causes]
"blew up" = "piston"
"""


def lay_out(folder: Path, text: str = STUDY) -> Path:
    folder.mkdir()
    (folder / "study.toml").write_text(text, encoding="utf-8")
    (folder / "club-2025.csv").write_text(
        "Serial,Total,ending\nE-1,100,still going\n", encoding="utf-8"
    )
    return folder


def test_all_is_carried_but_the_dates(tmp_path: Path) -> None:
    old, new = lay_out(tmp_path / "old"), tmp_path / "new"
    told = begin_from(new, old)
    text = (new / "study.toml").read_text(encoding="utf-8")
    raw, was = tomllib.loads(text), tomllib.loads(STUDY)
    del was["study"]["analysis_date"], was["forecast"]["backtest_date"]
    assert raw == was
    assert "# agreed at the meeting of members" in text
    assert "# analysis_date =    (left to you; the earlier study's: 2025-12-31)" in text
    assert sorted(p.name for p in new.iterdir()) == ["study.toml"]
    head = text.split(LAST_LINE)[0]
    for line in told.lines:
        assert f"# {line}" in head
    said = "\n".join(told.lines)
    for part in (
        "1 rule, 1 treatment of a finding and 1 decision on returns that disagree",
        "how club-2025.csv is read (lives, club A), with 2 column names, 1 word for an ending and "
        "1 word for a cause",
        "analysis_date under [study], the date to which this year's records are complete",
        "backtest_date under [forecast]",
        "put this year's club-2025.csv into the folder (lives, club A); its name holds 2025",
        "the title, which holds 2025",
        "look again at 1 decision under [[merge.decisions]] that names rows of last year's files: "
        "E-1",
    ):
        assert part in said, part


def test_the_new_study_asks_for_its_date_and_then_has_the_old_settings(tmp_path: Path) -> None:
    old = shutil.copytree(DATASETS / "tow-clubs", tmp_path / "old")
    new = tmp_path / "new"
    begin_from(new, old)
    for name in ("ledger.csv", "north.csv", "lowland.csv"):
        shutil.copy(old / name, new / name)
    with pytest.raises(SettingError, match=r"study\.analysis_date: is missing"):
        read_study(new)
    path = new / "study.toml"
    text = path.read_text(encoding="utf-8")
    line = next(x for x in text.splitlines() if x.startswith("# analysis_date ="))
    path.write_text(text.replace(line, "analysis_date = 2026-09-30"), encoding="utf-8")
    assert settings_digest(read_study(new)) == settings_digest(read_study(old))


def test_the_ledger_goes_along_with_its_chain(tmp_path: Path) -> None:
    old, new = lay_out(tmp_path / "old"), tmp_path / "new"
    for n in (1, 2):
        append_look(old, LedgerLook(verb="study", date=f"202{n}-12-31", data=str(n)))
    told = begin_from(new, old)
    assert (new / HISTORY_FILE).read_bytes() == (old / HISTORY_FILE).read_bytes()
    assert told.n_looks == 2
    assert "2 earlier looks (history.jsonl)" in "\n".join(told.carried)
    append_look(new, LedgerLook(verb="study", date="2023-12-31", data="3"))
    assert read_history(new).flaws == ()
    assert [x.number for x in read_history(new).looks] == [1, 2, 3]
    assert len(read_history(old).looks) == 2


def test_a_year_after_a_year_the_head_does_not_pile_up(tmp_path: Path) -> None:
    old, new = lay_out(tmp_path / "old"), tmp_path / "new"
    begin_from(new, old)
    path = new / "study.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace(
            "# analysis_date =    (left to you; the earlier study's: 2025-12-31)",
            "analysis_date = 2026-12-31",
        ),
        encoding="utf-8",
    )
    shutil.copy(old / "club-2025.csv", new)
    begin_from(tmp_path / "third", new)
    text = (tmp_path / "third" / "study.toml").read_text(encoding="utf-8")
    assert text.count("# Begun from the study") == 1
    assert "“new” (records to 2026-12-31)" in text
    assert text.count("# agreed at the meeting of members") == 1


def test_nothing_is_overwritten_and_nothing_half_left(tmp_path: Path) -> None:
    old, new = lay_out(tmp_path / "old"), tmp_path / "new"
    new.mkdir()
    (new / HISTORY_FILE).write_text("mine", encoding="utf-8")
    with pytest.raises(SettingError, match="there already; nothing was written"):
        begin_from(new, old)
    assert [p.name for p in new.iterdir()] == [HISTORY_FILE]
    with pytest.raises(SettingError, match="there already"):
        begin_from(old, old)
    with pytest.raises(SettingError, match="There is no study file"):
        begin_from(tmp_path / "b", tmp_path / "nowhere")
    assert not (tmp_path / "b").exists()


@pytest.mark.parametrize(
    "text",
    [
        STUDY.replace("[study]\n", "").replace("title =", "study.title =", 1).replace(
            "analysis_date = 2025", "study.analysis_date = 2025").replace(
            "claimed_interval_h", "study.claimed_interval_h"),
        STUDY.replace(
            '[study]\ntitle = "Club engines 2025"\nanalysis_date = 2025-12-31   # end of season\n'
            "claimed_interval_h = 1200\n",
            'study = { title = "t", analysis_date = 2025-12-31 }\n',
        ),
    ],
)  # fmt: skip
def test_dates_written_otherwise_are_never_carried_in_silence(tmp_path: Path, text: str) -> None:
    old = lay_out(tmp_path / "old", text)
    read_study(old)
    with pytest.raises(SettingError, match="writes its dates where they cannot be taken out"):
        begin_from(tmp_path / "new", old)
    assert not (tmp_path / "new").exists()


def test_line_ends_and_a_mark_of_other_systems_do_no_harm(tmp_path: Path) -> None:
    old = lay_out(tmp_path / "old")
    (old / "study.toml").write_bytes(b"\xef\xbb\xbf" + STUDY.replace("\n", "\r\n").encode())
    begin_from(tmp_path / "new", old)
    raw = tomllib.loads((tmp_path / "new" / "study.toml").read_text(encoding="utf-8"))
    assert raw["records"][0]["columns"]["engine"] == "Serial"
    assert "analysis_date" not in raw["study"]


def test_the_verb_prints_what_was_carried(tmp_path: Path) -> None:
    old = lay_out(tmp_path / "old")
    got = CliRunner().invoke(main, ["begin", str(tmp_path / "new"), "--from", str(old)])
    assert got.exit_code == 0
    assert "Carried: how club-2025.csv is read" in got.stderr
    assert "Left to you: analysis_date" in got.stderr
    assert got.stdout.strip() == str(tmp_path / "new")
    again = CliRunner().invoke(main, ["begin", str(tmp_path / "new"), "--from", str(old)])
    assert again.exit_code == 2
    assert "nothing was written" in again.stderr


def test_the_page_shows_what_begin_prints(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = (DATASETS.parent / "reports" / "docs" / "every-year.md").read_text(encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    run = CliRunner()
    run.invoke(main, ["begin", "club-2025"])
    append_look(Path("club-2025"), LedgerLook(verb="claim", date="2025-12-31", data="x"))
    got = run.invoke(main, ["begin", "club-2026", "--from", "club-2025"])
    assert f"```text\n{got.stderr}```\n" in page


def test_no_demo_folder_holds_a_ledger() -> None:
    """A run there without --no-history would be listed in everybody's report of the demo."""
    assert not list(DATASETS.glob(f"*/{HISTORY_FILE}"))
