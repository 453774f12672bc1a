"""Several files that are one table: a folder or a pattern, read whole or by chunks.

No outside source: cutting a table into files must change no figure.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from test_long_chapters import HEAD, STUDY, rows_of

from fleetstats.cli import main
from fleetstats.core.crew import Crew
from fleetstats.core.errors import ReadError, RecordError, SettingError
from fleetstats.records.readers import read_records
from fleetstats.spells.bulk import bulk as bulk_module
from fleetstats.spells.bulk.bulk import read_bulk
from fleetstats.studies.analyse import read_lives_of
from fleetstats.studies.by_chunks import lives_by_chunks
from fleetstats.study.carry import begin_from
from fleetstats.study.files.drawn import drawn_folder
from fleetstats.study.leaves import leaves_of
from fleetstats.study.study import read_record_keys, read_study

N = 90


def cut(folder: Path, cuts: list[int], names: list[str], *, file: str, more: str = "") -> Path:
    """Write invented rows over several files, and the study that means them."""
    rows = rows_of(N)
    rows[40] = rows[3]  # one row stands in two files
    parts = [rows[a:b] for a, b in zip([0, *cuts], [*cuts, N], strict=True)]
    for name, part in zip(names, parts, strict=True):
        (folder / name).parent.mkdir(exist_ok=True, parents=True)
        (folder / name).write_text("\n".join([HEAD, *part]) + "\n", encoding="utf-8")
    text = STUDY.format(file=file) + more
    (folder / "study.toml").write_text(
        text + '[treat]\nduplicate-row = "set-aside"\n', encoding="utf-8"
    )
    return folder


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    root = tmp_path_factory.mktemp("patterns")
    cuts = {
        "one": ([], ["all.csv"], "all.csv"),
        "three": ([30, 55], ["r-1.csv", "r-2.csv", "r-3.csv"], "r-*.csv"),
        "turned": ([30, 55], ["r-3.csv", "r-2.csv", "r-1.csv"], "r-?.csv"),
        "folder": ([10], ["in/a.csv", "in/more/b.csv"], "in/"),
    }
    for name, (at, files, file) in cuts.items():
        (root / name).mkdir()
        cut(root / name, at, files, file=file)
    return {name: root / name for name in cuts}


def test_cutting_a_table_into_files_changes_no_answer(folders: dict[str, Path]) -> None:
    reads = {n: read_bulk(read_study(f)) for n, f in folders.items()}
    one = reads["one"].bulk
    assert one.reasons == {"duplicate-row": 1}
    assert one.n_set_aside == 1
    for name, read in reads.items():
        b = read.bulk
        assert b.spells == one.spells, name
        assert (b.n_read, b.n_used, b.n_set_aside, b.engines) == (N, N - 1, 1, one.engines)
        assert (b.reasons, b.endings, b.trouble.counts) == (
            one.reasons, one.endings, one.trouble.counts,
        )  # fmt: skip
        assert {k: n for k, n in b.counts.items() if k != "all-from-new"} == {
            k: n for k, n in one.counts.items() if k != "all-from-new"
        }
        assert read.in_service == reads["one"].in_service
        assert [x for _, x in read.tally.by_label(read.labels)] == [
            x for _, x in reads["one"].tally.by_label(reads["one"].labels)
        ]
        assert sorted(x.engine for x in read.running.rows) == sorted(
            x.engine for x in reads["one"].running.rows
        )


def test_so_it_is_when_the_files_are_read_whole(folders: dict[str, Path]) -> None:
    read = {n: read_lives_of(read_study(f)) for n, f in folders.items()}
    one = read["one"][2].spells.collapse().to_frame().drop(columns="unit")
    for name, (_, audit, built) in read.items():
        assert (audit.n_read, audit.n_used) == (N, N - 1)
        mine = built.spells.collapse().to_frame().drop(columns="unit")
        assert mine.equals(one), name
    files = {f.file for f in read["three"][1].accounts}
    assert files == {"r-1.csv", "r-2.csv", "r-3.csv"}


def test_findings_name_the_file_and_its_row(folders: dict[str, Path]) -> None:
    study = read_study(folders["three"])
    (told,) = (f for f in read_bulk(study).bulk.findings if f.code == "duplicate-row")
    audit = read_lives_of(study)[1]
    (same,) = (f for f in audit.findings if f.code == "duplicate-row")
    assert (told.file, told.row) == (same.file, same.row) == ("r-2.csv", 12)
    assert told.related == same.related == ("r-1.csv row 5",)


def test_who_reads_the_files_changes_nothing(folders: dict[str, Path]) -> None:
    study = read_study(folders["three"])
    alone, many = (lives_by_chunks(study, crew=c) for c in (None, Crew(workers=2)))
    assert alone[2] == many[2]
    assert alone[1] == many[1]
    assert alone[4].labelled == many[4].labelled
    assert alone[4].running.rows == many[4].running.rows
    assert [f.name for f in many[0].sources] == ["r-1.csv", "r-2.csv", "r-3.csv"]


def test_settings_of_one_pattern_are_told_once(folders: dict[str, Path]) -> None:
    files = {(x.file, x.number) for x in leaves_of(read_study(folders["three"])) if x.number}
    assert files == {("r-*.csv", 1)}


def test_next_years_study_is_begun_from_one_with_many_files_and_a_url(tmp_path: Path) -> None:
    """Each table is told once, by what the study file asks for; a file given is of the pattern."""
    old = tmp_path / "old"
    old.mkdir()
    url = 'file = "memory://fleet/2026-*.csv"'
    cut(
        old,
        [30, 55],
        ["r-1.csv", "r-2.csv", "r-3.csv"],
        file="r-*.csv",
        more=f"[[records]]\n{url}\n",
    )
    keys = read_record_keys(old)[1]
    (old / drawn_folder(keys)).mkdir(parents=True)
    for k in (1, 2):
        text = (old / "r-1.csv").read_text("utf-8").replace("\nE", f"\nF{k}")
        (old / drawn_folder(keys) / f"2026-{k}.csv").write_text(text, "utf-8")
    told = begin_from(tmp_path / "new", old)
    assert [x for x in told.carried if x.startswith("how ")] == [
        "how r-*.csv is read (lives).",
        "how memory://fleet/2026-*.csv is read (lives).",
    ]
    assert "put this year's r-*.csv into the folder (lives)." in told.left
    drawn = "draw this year's rows of memory://fleet/2026-*.csv with 'fleetstats study FOLDER"
    named = "its name holds 2026: name this year's file."
    assert f"{drawn} --draw' (lives); {named}" in told.left
    assert [x.name for x in (tmp_path / "new").iterdir()] == ["study.toml"]
    # the new study asks for the same, and says what is missing
    with pytest.raises(SettingError, match=r"(?s)r-\*.*matches no file.*not drawn yet"):
        read_study(tmp_path / "new")
    by_file = tmp_path / "by-file"
    given = CliRunner().invoke(
        main, ["begin", str(by_file), "--from", str(old), str(old / "r-1.csv")]
    )
    assert given.exit_code == 0, given.output
    assert "r-1.csv is read so now, as r-*.csv means it." in given.output
    assert drawn in given.output  # a file is no answer to what is drawn
    asked = (by_file / "study.toml").read_text("utf-8")
    assert asked.count("[[records]]") == 2
    assert 'file = "r-*.csv"' in asked
    assert sorted(x.name for x in by_file.iterdir()) == ["r-1.csv", "study.toml"]


def test_what_is_wrong_with_a_pattern_is_said(tmp_path: Path) -> None:
    cut(tmp_path, [30], ["r-1.csv", "r-2.csv"], file="returns-*.csv")
    with pytest.raises(SettingError, match=r'"returns-\*.csv": matches no file'):
        read_study(tmp_path)
    cut(tmp_path, [30], ["r-1.csv", "r-2.csv"], file="../*.csv")
    with pytest.raises(SettingError, match="must be a pattern within the study's folder"):
        read_study(tmp_path)
    more = STUDY[STUDY.index("[[records]]") :].format(file="r-1.csv")
    cut(tmp_path, [30], ["r-1.csv", "r-2.csv"], file="r-*.csv", more=more)
    with pytest.raises(SettingError, match=r"named by records\[1\] as well"):
        read_study(tmp_path)
    cut(tmp_path, [30], ["p/year=2025/a.csv", "p/year=2026/a.csv"], file="p/")
    with pytest.raises(SettingError, match='folder "year=2025" stands for a column'):
        read_study(tmp_path)


def test_files_of_one_table_must_have_the_same_head(tmp_path: Path) -> None:
    cut(tmp_path, [30], ["r-1.csv", "r-2.csv"], file="r-*.csv")
    text = (tmp_path / "r-2.csv").read_text(encoding="utf-8")
    (tmp_path / "r-2.csv").write_text(text.replace("build,", "standard,", 1), encoding="utf-8")
    study = read_study(tmp_path)
    for read in (read_bulk, read_records):
        with pytest.raises(ReadError, match=r"'r-2.csv' and 'r-1.csv' .* alone has 'standard'"):
            read(study)


def test_a_file_that_cannot_be_read_is_named_whoever_reads_it(tmp_path: Path) -> None:
    cut(tmp_path, [30], ["r-1.csv", "r-2.csv"], file="r-*.csv")
    (tmp_path / "r-2.csv").write_bytes(b"\x00" * 50)
    study = read_study(tmp_path)
    for crew in (None, Crew(workers=2)):
        with pytest.raises((ReadError, RecordError), match=r"r-2\.csv"):
            read_bulk(study, crew=crew)


def test_the_verb_hands_its_crew_on(
    folders: dict[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Crew] = []

    def note(function, tasks, crew=None):  # type: ignore[no-untyped-def]
        asked.append(crew)
        raise SettingError("far enough")

    monkeypatch.setattr(bulk_module, "do_work", note)
    for more in (["--workers", "3"], ["--workers", "1"], ["--workers", "3", "--memory", "2GB"]):
        got = CliRunner().invoke(
            main,
            ["study", str(folders["three"]), "--chunks", "--no-history", "--out",
             str(tmp_path / "out"), *more],
        )  # fmt: skip
        assert "far enough" in got.output
    # a bound of memory holds for one process
    assert asked == [Crew(workers=3), Crew(), Crew()]
