"""Decisions about cells: applied as records are read, refused where they do not fit, counted.

Rules of our own, no outside source; the files are invented.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from pathlib import Path

import openpyxl
import pytest

from fleetstats.chapters.departures import list_departures
from fleetstats.chapters.mends import list_mends
from fleetstats.core.errors import ReadError, RecordError
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.condition.condition import read_condition
from fleetstats.records.mending.plain import near_word, plain_date, plain_number
from fleetstats.records.mending.propose import propose_mends
from fleetstats.records.mending.take import GIVE, LEAVE, SET_ASIDE, TAKE, Decision, take_mends
from fleetstats.records.mends.log import read_mends, remove_mend
from fleetstats.records.mends.words import say_mends
from fleetstats.records.readers import read_records
from fleetstats.records.split_families import read_portfolio
from fleetstats.report.bundle.pack import study_members
from fleetstats.report.bundle.pseudonyms import pseudonymous_study
from fleetstats.spells.build import build_spells
from fleetstats.spells.bulk.bulk import build_bulk
from fleetstats.studies.compare.mends_apart import say_mends_apart
from fleetstats.study.history.look import digest_data
from fleetstats.study.study import MENDS_FILE, Study, read_study

LIVES = (
    "engine;exit_hours;ending;cause;ended_date\n"
    "A-101;1O50,5;running;;\n"
    "B;700;faild;crankshaft;13.05.2021\n"
    "A-1O1;900;running;;\n"
    "D;1,5;failed;piston;\n"
    "E;400;running;;\n"
)
KEEPER = {"why": "seen in the log book", "by": "records keeper"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "made"\nanalysis_date = 2025-12-31\nclaimed_interval_h = 500\n'
        '[[records]]\nfile = "lives.csv"\nsource = "club"\n',
        encoding="utf-8",
    )
    (tmp_path / "lives.csv").write_text(LIVES, encoding="utf-8")
    return tmp_path


def decide(row: int, act: str, column: str = "", new: str = "", **more: str) -> Decision:
    return Decision(file="lives.csv", row=row, column=column, act=act, new=new, **(KEEPER | more))


def usable(folder: Path) -> Study:
    """Return the study with what keeps it from being read mended, the wrong cause left."""
    study = read_study(folder)
    take_mends(
        study, [decide(2, TAKE, "exit_hours", "1050.5"), decide(3, TAKE, "ending", "failed")]
    )
    return study


@pytest.mark.parametrize(
    ("shown", "number"),
    [
        ("1,234.5", "1234.5"), ("1.234,5", "1234.5"), ("1O50", "1050"), ("l2", "12"),
        ("771hrs", "771"), ("1 234", "1234"), ("1,234,567", "1234567"), ("12,5", "12.5"),
        ("1,234", ""), ("lots", ""), ("O", ""), ("1,23.4", ""), ("", ""), ("approx 800", ""),
    ],
)  # fmt: skip
def test_a_number_is_proposed_only_where_it_can_be_one(shown: str, number: str) -> None:
    assert plain_number(shown) == number


def test_a_day_and_a_word_are_proposed_only_where_they_are_plain() -> None:
    assert plain_date("05.13.2021") == plain_date("2021-13-05") == "2021-05-13"
    assert plain_date("03/04/2019") == plain_date("31.04.2019") == plain_date("spring") == ""
    assert (near_word("faild", "lives"), near_word("runing", "lives")) == ("failed", "running")
    assert near_word("exploded", "lives") == ""


def test_every_odd_cell_is_proposed_with_its_reason_and_a_plain_value(folder: Path) -> None:
    found = {(p.row, p.column): p for p in propose_mends(read_study(folder))}
    assert found[2, "exit_hours"].proposed == "1050.5"
    assert found[3, "ending"].proposed == "failed"
    assert found[3, "ending"].severity == "error"
    assert "faild" in found[3, "ending"].reason
    assert all(p.digest for p in found.values())
    lives = (folder / "lives.csv").read_text(encoding="utf-8")
    (folder / "lives.csv").write_text(lives.replace("1O50,5", "99999,5"), encoding="utf-8")
    (far,) = [p for p in propose_mends(read_study(folder)) if p.row == 2 and p.column]
    assert (far.value, far.proposed) == ("99999,5", ""), "read well, and odd for what it says"


def test_the_id_with_more_digits_is_proposed(folder: Path) -> None:
    usable(folder)
    (p,) = [p for p in propose_mends(read_study(folder)) if p.code == "ids-alike"]
    assert (p.row, p.value, p.proposed) == (4, "A-1O1", "A-101")


def test_decisions_are_read_and_the_supplied_file_stays(folder: Path) -> None:
    before = (folder / "lives.csv").read_bytes()
    study = read_study(folder)
    taken = take_mends(
        study,
        [decide(2, TAKE, "exit_hours", "1050.5"), decide(3, GIVE, "ending", "failed"),
         decide(4, SET_ASIDE, why="same as A-101"), decide(6, LEAVE)],
        today=dt.date(2026, 1, 5),
    )  # fmt: skip
    assert (len(taken.written), taken.again, taken.left) == (3, 0, 1)
    assert (folder / "lives.csv").read_bytes() == before
    records = read_records(study)
    audit = audit_records(study, records)
    assert {r.engine: (r.exit_h, r.ending) for r in records.rows} == {
        "A-101": (1050.5, "running"), "B": (700.0, "failed"), "D": (1.5, "failed"),
        "E": (400.0, "running"),
    }  # fmt: skip
    assert (audit.n_read, audit.n_used, audit.reasons) == (5, 4, {"mended-aside": 1})
    (aside,) = audit.set_aside
    assert aside.message == "Mended: set aside by records keeper: same as A-101."
    assert say_mends(records.mended) == "2 cells mended, 1 row set aside by decision"
    assert [m.when for m in read_mends(study).mends] == ["2026-01-05"] * 3
    source = {s.name: s for s in records.sources}[MENDS_FILE]
    assert source.sha256 == hashlib.sha256((folder / MENDS_FILE).read_bytes()).hexdigest()


def test_a_number_given_is_read_so_whatever_the_file_does(folder: Path) -> None:
    """The file writes decimal commas, in which 1234.5 would be a slip."""
    study = usable(folder)
    take_mends(study, [decide(6, GIVE, "exit_hours", "1234.5")])
    rows = {r.engine: r for r in read_records(study).rows}
    assert rows["E"].exit_h == 1234.5
    take_mends(study, [decide(6, GIVE, "exit_hours", "1.234,25")])
    assert {r.engine: r for r in read_records(study).rows}["E"].exit_h == 1234.25


def test_taking_twice_writes_once_and_a_later_decision_of_a_cell_holds(folder: Path) -> None:
    study = read_study(folder)
    one = [decide(2, TAKE, "exit_hours", "1050.5")]
    take_mends(study, one)
    data = (folder / MENDS_FILE).read_bytes()
    assert take_mends(study, one).again == 1
    assert (folder / MENDS_FILE).read_bytes() == data
    take_mends(study, [decide(2, GIVE, "exit_hours", "1060")])
    assert (folder / MENDS_FILE).read_bytes().startswith(data)
    assert read_records(study).rows[0].exit_h == 1060.0
    assert len(read_records(study).mended) == 1
    remove_mend(study, 2)
    assert read_records(study).rows[0].exit_h == 1050.5
    assert remove_mend(study, 1).new == "1050.5"
    assert not (folder / MENDS_FILE).exists()
    with pytest.raises(ReadError, match="There is no mend 1"):
        remove_mend(study, 1)


@pytest.mark.parametrize(
    ("decision", "words"),
    [
        (decide(99, SET_ASIDE), "no row of the table"),
        (decide(2, GIVE, "colour", "5"), "column 'colour' is not in the file"),
        (decide(2, GIVE, "exit_hours"), "the other value is empty"),
        (decide(2, TAKE, "exit_hours"), "no value is proposed"),
        (decide(2, GIVE, "", "5"), "needs a column"),
        (decide(3, GIVE, "exit_hours", "700"), "is what stands there"),
        (decide(2, GIVE, "exit_hours", "5", why=" "), "the reason is empty"),
        (decide(2, GIVE, "exit_hours", "5", by=""), "the role of who decides is empty"),
        (decide(2, "perhaps", "exit_hours"), "none of take it"),
        (decide(2, GIVE, "exit_hours", "5", old="1050"), "'1050' was seen, '1O50,5' stands there"),
        (decide(2, GIVE, "exit_hours", "5", digest="f" * 64), "has changed since"),
    ],
)
def test_what_cannot_be_decided_is_named_and_nothing_is_written(
    folder: Path, decision: Decision, words: str
) -> None:
    with pytest.raises(RecordError, match=r"lives\.csv row") as e:
        take_mends(read_study(folder), [decide(6, SET_ASIDE), decision])
    assert words in str(e.value)
    assert not (folder / MENDS_FILE).exists()


def test_one_cell_is_not_given_two_values(folder: Path) -> None:
    two = [decide(2, GIVE, "exit_hours", "5"), decide(2, GIVE, "exit_hours", "6")]
    with pytest.raises(RecordError, match="the same cell is given '5'"):
        take_mends(read_study(folder), two)


@pytest.mark.parametrize(
    ("was", "now", "case"),
    [
        ("lives.csv,", "other.csv,", "does not name as a record file"),
        (",3,ending,", ",3,colour,", "does not have, or has twice"),
        (",3,ending,", ",33,ending,", "does not have"),
        (",faild,", ",fail,", "was to replace 'fail', and 'faild' stands there"),
        ("digest", "0" * 64, "another version of this file"),
    ],
)
def test_a_mend_that_does_not_fit_stops_the_study_whole_and_by_chunks(
    folder: Path, was: str, now: str, case: str
) -> None:
    study = usable(folder)
    text = (folder / MENDS_FILE).read_text(encoding="utf-8")
    digest = hashlib.sha256((folder / "lives.csv").read_bytes()).hexdigest()
    head, *lines = text.splitlines(keepends=True)
    lines[1] = lines[1].replace(digest if was == "digest" else was, now)
    (folder / MENDS_FILE).write_text(head + "".join(lines), encoding="utf-8")
    stops = audit_records(study, read_records(study)).stops
    (found,) = [f for f in stops if f.code == "mend-refused"]
    assert case in found.message
    assert "--untake 2" in found.advice
    with pytest.raises(ReadError, match=r"row 33?") as e:
        build_bulk(study)
    assert case in str(e.value)


@pytest.mark.parametrize(
    ("was", "now", "case"),
    [
        (b"file,digest", b"digest,file", "row 1: the columns must be"),
        (b",value,", b",guess,", "column 'act': 'guess' is neither"),
        (b"records keeper", b"", "column 'by': is empty"),
        (b",ending,", b",ending,,", "12 cells stand where 11"),
        (b",3,ending", b",x,ending", "column 'row': 'x'"),
        (b"faild", b"\xff\xfe", "no table of mends"),
    ],
)
def test_a_table_of_mends_that_is_none_is_refused(
    folder: Path, was: bytes, now: bytes, case: str
) -> None:
    study = usable(folder)
    data = (folder / MENDS_FILE).read_bytes()
    (folder / MENDS_FILE).write_bytes(data.replace(was, now))
    with pytest.raises(ReadError) as e:
        read_records(study)
    assert case in str(e.value)


def test_a_table_read_by_chunks_is_mended_alike(folder: Path) -> None:
    study = usable(folder)
    take_mends(study, [decide(6, SET_ASIDE), decide(5, GIVE, "exit_hours", "610.25")])
    records = read_records(study)
    whole = audit_records(study, records)
    bulk = build_bulk(study)
    assert (bulk.n_read, bulk.n_used, bulk.reasons) == (whole.n_read, whole.n_used, whole.reasons)
    assert bulk.reasons["mended-aside"] == 1
    spells = build_spells(study, records, whole).spells
    ends = sorted(bulk.spells.exit_upper.tolist())
    assert ends == sorted(spells.exit_upper.tolist()) == [610.25, 700.0, 900.0, 1050.5]
    assert [m.effect for m in bulk.mended] == [m.effect for m in records.mended]
    assert bulk.mend_source is not None


@pytest.mark.parametrize(
    ("decisions", "effect"),
    [
        ([decide(5, GIVE, "ending", "running"), decide(5, GIVE, "cause", "unknown")], "removed"),
        ([decide(5, SET_ASIDE)], "removed"),
        ([decide(5, GIVE, "exit_hours", "15")], "hours"),
        ([decide(5, GIVE, "cause", "gearbox")], "cause"),
        ([decide(6, GIVE, "ending", "failed")], "added"),
        ([decide(6, GIVE, "exit_hours", "500")], ""),
    ],
)
def test_what_a_mend_does_to_a_failure_is_told_and_warned_of(
    folder: Path, decisions: list[Decision], effect: str
) -> None:
    study = usable(folder)
    take_mends(study, decisions)
    records = read_records(study)
    found = [m.effect for m in records.mended if m.mend.row in (5, 6)]
    assert found == [*[""] * (len(decisions) - 1), effect]
    told = list_mends(records.mended)
    assert told is not None
    codes = [c.code for c in told.cautions]
    assert ("failure-mended-away" in codes) == (effect == "removed")
    audit = audit_records(study, records)
    (own,) = [
        d
        for d in list_departures(study, records, audit, build_spells(study, records, audit)).items
        if d.key == MENDS_FILE
    ]
    assert (own.turns, own.turned) == (True, int(effect == "removed"))


def test_a_slip_mended_into_a_failure_is_no_failure_taken_out(folder: Path) -> None:
    """“faild” is no known word; read as "failed" it tells of a failure that stood in the words."""
    effects = {m.mend.row: m.effect for m in read_records(usable(folder)).mended}
    assert effects == {2: "", 3: "added"}


def test_rows_of_checks_are_mended_and_their_mends_are_held_to_the_file(folder: Path) -> None:
    (folder / "checks.csv").write_text(
        "engine,hours,result\nE,1OO,clean\nE,200,clean\n", encoding="utf-8"
    )
    toml = (folder / "study.toml").read_text(encoding="utf-8")
    more = '[[records]]\nfile = "checks.csv"\nsource = "club"\nshape = "checks"\n'
    (folder / "study.toml").write_text(toml + more, encoding="utf-8")
    study = usable(folder)
    own = {"file": "checks.csv", **KEEPER}
    take_mends(study, [
        Decision(row=2, column="hours", act=GIVE, new="100", **own),
        Decision(row=3, act=SET_ASIDE, **own),
    ])  # fmt: skip
    reading = read_condition(study).readings[0]
    assert [r.hours_h for r in reading.rows] == [100.0]
    assert [s.reason for s in reading.set_aside] == ["mended-aside"]
    assert sum(m.mend.file == "checks.csv" for m in read_records(study).mended) == 2
    (folder / "checks.csv").write_text("engine,hours,result\nE,1OO,clean\n", encoding="utf-8")
    stops = audit_records(study, read_records(study)).stops
    assert {f.code for f in stops} == {"mend-refused"}


def test_mends_are_data_of_the_study(folder: Path, tmp_path: Path) -> None:
    """They travel in a bundle and count as another look; under pseudonyms the log stays home."""
    before = digest_data(read_study(folder))
    study = usable(folder)
    assert digest_data(study) != before
    assert digest_data(study) == digest_data(study, read_records(study).sources)
    assert study_members(study)[MENDS_FILE] == (folder / MENDS_FILE).read_bytes()
    anew = pseudonymous_study(study, tmp_path / "anew").study
    assert not (anew.folder / MENDS_FILE).exists()
    hours = sorted(r.exit_h for r in read_records(anew).rows)
    assert hours == pytest.approx([1.5, 400.0, 700.0, 900.0, 1050.5], abs=1.0)
    assert not any(b"keeper" in p.read_bytes() for p in anew.folder.iterdir())


def test_a_comparison_names_what_one_study_mends(folder: Path, tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.mkdir()
    for name in ("study.toml", "lives.csv"):
        (plain / name).write_bytes((folder / name).read_bytes())
    assert say_mends_apart(read_study(plain), read_study(plain)) == ()
    first, second = say_mends_apart(read_study(plain), usable(folder))
    assert first == "Earlier study: no cell mended."
    assert "2 cells mended; only here lives.csv row 2" in second
    assert "“faild” read as “failed”" in second


def test_events_of_a_log_are_mended(tmp_path: Path) -> None:
    """An event set aside is no failure any more; the kind of another is a slip of ours."""
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "made"\nanalysis_date = 2025-12-31\n'
        '[[records]]\nfile = "log.csv"\nsource = "club"\nshape = "log"\n',
        encoding="utf-8",
    )
    (tmp_path / "log.csv").write_text(
        "engine,date,hours,kind,cause\n"
        "A,2020-01-01,0,installed,\nA,2021-01-01,4OO,reading,\nA,2022-01-01,500,failed,piston\n"
        "B,2020-01-01,0,installed,\nB,2021-01-01,300,readng,\n",
        encoding="utf-8",
    )
    study = read_study(tmp_path)
    found = {(p.row, p.column): p.proposed for p in propose_mends(study) if p.proposed}
    assert found == {(3, "hours"): "400", (6, "kind"): "reading"}
    own = {"file": "log.csv", **KEEPER}
    take_mends(study, [
        Decision(row=3, column="hours", act=TAKE, new="400", **own),
        Decision(row=4, act=SET_ASIDE, **own),
        Decision(row=6, column="kind", act=TAKE, new="reading", **own),
    ])  # fmt: skip
    records = read_records(study)
    audit = audit_records(study, records)
    assert audit.ok
    assert {r.engine: (r.exit_h, r.ending) for r in records.rows} == {
        "A": (400.0, "running"), "B": (300.0, "running"),
    }  # fmt: skip
    assert (audit.n_read, audit.n_used, audit.reasons) == (5, 4, {"mended-aside": 1})
    assert [m.effect for m in records.mended] == ["", "removed", ""]


def test_a_table_of_many_families_is_mended_before_it_is_parted(folder: Path) -> None:
    text = (folder / "study.toml").read_text(encoding="utf-8")
    rows = LIVES.splitlines()
    rows = [f"{rows[0]};family", *(f"{r};{'X' if i < 3 else 'Y'}" for i, r in enumerate(rows[1:]))]
    (folder / "lives.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    usable(folder)
    (folder / "study.toml").write_text(f'{text}[portfolio]\nfamily = "family"\n', "utf-8")
    parts = {f.name: f for f in read_portfolio(folder).families}
    records = read_records(parts["X"].study, parts["X"].opened)
    assert sorted(r.exit_h for r in records.rows) == [700.0, 900.0, 1050.5]
    assert len(records.mended) == 2
    assert read_records(parts["Y"].study, parts["Y"].opened).mended == ()


def test_a_link_is_no_table_of_mends(folder: Path) -> None:
    usable(folder)
    (folder / MENDS_FILE).rename(folder / "elsewhere.csv")
    (folder / MENDS_FILE).symlink_to(folder / "elsewhere.csv")
    with pytest.raises(ReadError, match="is a link"):
        read_records(read_study(folder))


def test_the_digits_of_a_float_decide_nothing_about_its_mend(tmp_path: Path) -> None:
    """A page shows 1125.5 where a sheet holds 1125.499999999999, which is stored and compared."""
    book = openpyxl.Workbook()
    book.active.append(["engine", "exit_hours", "ending"])
    book.active.append(["A", 1125.499999999999, "running"])
    book.active.append(["B", 500.0, "running"])
    book.save(tmp_path / "lives.xlsx")
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "made"\nanalysis_date = 2025-12-31\n[[records]]\nfile = "lives.xlsx"\n',
        encoding="utf-8",
    )
    study = read_study(tmp_path)
    for seen in ("1125.5", "1125.499999999999"):
        take_mends(study, [Decision(file="lives.xlsx", sheet="Sheet", row=2, column="exit_hours",
                                    act=GIVE, new="300", old=seen, **KEEPER)])  # fmt: skip
        (mend,) = read_mends(study).holding
        assert mend.old == "1125.499999999999"
        assert {r.engine: r.exit_h for r in read_records(study).rows} == {"A": 300.0, "B": 500.0}
