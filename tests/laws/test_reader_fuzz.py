"""Whatever a record file holds, reading it ends in findings and a true account of every row.

No exception leaves the readers, no row is lost, and no spell is built from nonsense. The strategies
put together what has broken readers before: odd encodings, ragged rows, NaN, infinities, huge
numbers and ids, control characters, quotation marks, formulas, script in names.
"""

from __future__ import annotations

import datetime as dt
import io
import itertools
import math
import random
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from fleetstats.chapters.checks.lives import build_check_lives
from fleetstats.core.errors import SettingError
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.audit.finding import Audit
from fleetstats.records.readers import read_records
from fleetstats.records.reading import Records
from fleetstats.spells.build import build_spells
from fleetstats.spells.recurrent import build_histories
from fleetstats.spells.trouble.place import ledger_of
from fleetstats.study.study import Study, parse_study, read_study
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.findings import LOG_FINDINGS
from fleetstats.vocabulary.findings.histories import HISTORIES

HEAD = '[study]\ntitle = "T"\nanalysis_date = 2025-12-31\n[treat]\n'
LENIENT = HEAD + "\n".join(
    f'{c} = "set-aside"'
    for c in (
        "engine-missing", "engine-unreadable", "hours-missing", "hours-unreadable",
        "hours-impossible", "exit-before-entry", "failure-without-exposure",
        "last-good-after-exit", "ending-unknown", "meter-unknown", "count-unreadable", "row-long",
        "clock-doubt-unreadable", "hours-below-meter",
        "row-short", "merged-cell", "ending-missing", "entry-missing", "overhaul-within-life",
        "duplicate-row", "duplicate-life", "hours-backwards", "hours-exceed-calendar",
        "totals-row-failed", "sum-of-rows",
        "date-future", "dates-backwards", "clock-without-factor", "failure-or-not",
    )
)  # fmt: skip

FEW = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
NAMES = [f.name for f in LIFE_FIELDS]
ODD = st.sampled_from(
    ["", " ", "NaN", "inf", "-inf", "1e308", "1e999", "-5", "0", "12,5", "1.234,5", "1,234.5",
     "=1+1", "@SUM(A1)", "+49", '"', "''", "\x00", "\x07x", "\u202e", "<script>alert(1)</script>",
     "E" * 5000, "1" * 400, "2024-02-30", "45000", "03/04/2024", "31.12.2030", "running", "failed",
     "found at check", "removed", "lost", "yes", "no", "tach", "hobbs", "#DIV/0!", "١٢", "½",
     "0x1f", "nan h", "1:30", "100 h",
     "\ud7ff", "\ufeff", "a\nb", "a\r\nb", "TRUE"]
)  # fmt: skip
CELL = st.one_of(
    ODD,
    st.text(max_size=12),
    st.floats().map(str),
    st.integers(-10, 5000).map(str),
    st.dates(dt.date(1890, 1, 1), dt.date(2100, 1, 1)).map(str),
)


def account_holds(folder: Path, *, lenient: bool) -> None:
    """Read, audit and build; check what must hold of any file."""
    study = read_study(folder)
    records = read_records(study)
    audit = audit_records(study, records)
    for a in audit.accounts:
        assert a.n_read == a.n_used + a.n_set_aside
        assert a.n_set_aside == sum(a.reasons.values())
    told = {(s.file, s.sheet, s.row) for s in audit.set_aside}
    used = {(x.origin.file, x.origin.sheet, n) for x in audit.used for n in x.rows}
    assert not told & used
    assert len(told) == audit.n_set_aside
    for f in audit.findings:
        assert f.message.strip()
        assert f.severity in ("error", "warning", "note")
    for x in audit.used:
        assert 0 <= x.entry_h < x.exit_h <= 100_000
        assert math.isfinite(x.exit_h)
        assert x.engine.strip()
        assert x.engine.isprintable()
    str(audit)
    audit.to_dict()
    if lenient and not any(f.code.startswith(("file", "column", "decimal")) for f in audit.stops):
        assert audit.ok, audit.stops
    trouble_adds_up(study, records, audit)
    if audit.ok:
        # whatever the audit lets pass, every verb can run
        built = build_spells(study, records, audit)
        assert built.funnel.holds
        assert len(built.spells) == len(built.rows)
        build_histories(records, study.settings)
        build_check_lives(built.rows, (), study.settings)


def trouble_adds_up(study: Study, records: Records, audit: Audit) -> None:
    """Each row that hints at a failure is in one place of the ledger, whatever became of it."""
    trouble, left_out = ledger_of(study, records, audit)
    assert trouble.n == sum(trouble.counts.values()) == len(records.trouble)
    where = [(r.file, r.sheet, r.row) for r in trouble.rows]
    # a row that tells a whole history is there once for each thing that it tells
    once = {r.file for r in study.files if r.shape != "histories"}
    single = [w for w in where if w[0] in once]
    assert len(set(single)) == len(single)
    aside = {(s.file, s.sheet, s.row) for s in audit.set_aside}
    for r in trouble.rows:
        out = r.place in ("set-aside", "merged")
        if r.file in once:
            assert out == ((r.file, r.sheet, r.row) in aside)
        else:  # of several lives of a row a merge may take one
            told = {(s.file, s.sheet, s.row) for s in records.set_aside}
            assert not out or (r.file, r.sheet, r.row) in told | aside
            assert out or (r.file, r.sheet, r.row) not in aside
        assert r.words
        assert len(r.columns) == len(r.words)
    failing = {
        (x.origin.file, x.origin.sheet, x.origin.row)
        for x in audit.used
        if x.ending in ("failed", "found-at-check")
    }
    assert failing <= set(where)
    for x in left_out:
        assert 0.0 <= x.low_h <= x.high_h
        assert any((r.file, r.row) == (x.file, x.row) for r in trouble.rows)


def lay_out(folder: Path, data: bytes, name: str, head: str = LENIENT) -> Path:
    (folder / name).write_bytes(data)
    text = head + f'\n[[records]]\nfile = "{name}"\n'
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return folder


@given(data=st.binary(max_size=400))
@FEW
def test_any_bytes_are_a_file_that_is_read_or_named(tmp_path, data):
    for name in ("a.csv", "a.xlsx", "a.parquet"):
        account_holds(lay_out(tmp_path, data, name), lenient=False)


@given(
    rows=st.lists(st.lists(CELL, min_size=1, max_size=22), max_size=8),
    mark=st.sampled_from([",", ";", "\t", "|"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-32"]),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    quoted=st.booleans(),
)
@example(rows=[["", "", "", "", "1e308"]] * 2, mark=",", encoding="utf-8", end="\n", quoted=False)
@FEW
def test_any_cells_in_any_text_file(tmp_path, rows, mark, encoding, end, quoted):
    def cell(c: str) -> str:
        return '"' + c.replace('"', '""') + '"' if quoted else c

    text = end.join(mark.join(map(cell, r)) for r in [NAMES, *rows]) + end
    data = text.encode(encoding, errors="surrogatepass")
    account_holds(lay_out(tmp_path, data, "a.csv"), lenient=True)


ROW = st.fixed_dictionaries(
    {},
    optional={
        "engine": st.one_of(st.sampled_from(["E-1", "e1", "E-2", "E-02", ""]), CELL),
        "entry_hours": st.one_of(st.integers(0, 900).map(str), CELL),
        "exit_hours": st.one_of(st.integers(1, 2000).map(str), CELL),
        "last_good_hours": st.one_of(st.integers(0, 2000).map(str), CELL),
        "ending": st.sampled_from(
            ["running", "failed", "found at check", "removed on finding", "sold", "overhauled", ""]
        ),
        "cause": st.sampled_from(["piston", "pistn", "prop strike", "", "<b>x</b>", "rod broke"]),
        "note": st.sampled_from(["", "no metal", "seized at 700 h", "back in service", "fine"]),
        "confirmed": st.sampled_from(["yes", "no", "", "perhaps"]),
        "in_service_date": CELL,
        "last_reading_date": st.dates(dt.date(2010, 1, 1), dt.date(2027, 1, 1)).map(str),
        "meter": st.sampled_from(["", "flight", "tach", "hobs"]),
        "found_at_teardown": st.sampled_from(["", "yes", "no"]),
        "overhauled_at_hours": st.one_of(st.just(""), st.integers(0, 2500).map(str)),
        "count": st.sampled_from(["", "1", "3", "-1", "1e9"]),
    },
)


@given(rows=st.lists(ROW, max_size=10), basis=st.sampled_from(["since-new", "since-overhaul"]))
@FEW
def test_nearly_right_rows_of_a_csv(tmp_path, rows, basis):
    frame = pd.DataFrame(rows, columns=NAMES).fillna("")
    data = frame.to_csv(index=False).encode("utf-8", errors="surrogatepass")
    head = LENIENT.replace("[treat]", f'[hours]\nbasis = "{basis}"\n[treat]')
    account_holds(lay_out(tmp_path, data, "a.csv", head), lenient=True)


ENGINES = ("K6-0274", "K6-0274", "K6 0274", "k6-274", "E-2")
MORE = {
    "ending": ("running", "running", "failed", "found at check", "removed on finding", "sold",
               "overhaul due"),
    "cause": ("piston", "prop strike", ""),
    "confirmed": ("yes", "no", ""),
    "in_service_date": ("2010-01-01", ""),
    "last_reading_date": ("2018-01-01", "2020-03-01", "2024-01-01", ""),
    "found_at_teardown": ("", "", "yes"),
    "last_good_hours": ("", "", "1600", "1700"),
    "modified_at_hours": ("", "", "850", "1643"),
    "modified_to": ("", "II"),
}  # fmt: skip
RETURN_NAMES = sorted({*NAMES, *MORE})
LOG_COLUMNS = ["engine", "date", "hours", "kind", "cause", "confirmed"]
LOG_WORDS = ("installed", "reading", "reading", "failed", "removed", "overhauled", "returned",
             "check", "finding", "teardown", "part-removed", "part-fitted", "lost")  # fmt: skip


def lay_out_returns(
    folder: Path, files: list[pd.DataFrame], head: str, shape: str, *, senders: int = 3
) -> Path:
    """Write several returns of one shape, each of a source of its own or not, and their study."""
    text = head
    for i, frame in enumerate(files):
        frame.fillna("").to_csv(folder / f"{i}.csv", index=False)
        club = f"club {i % senders}"
        text += f'\n[[records]]\nfile = "{i}.csv"\nshape = "{shape}"\nsource = "{club}"\n'
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return folder


def a_life(draw: random.Random) -> dict[str, str]:
    """Make a life since new, or one since an overhaul that each return puts a little elsewhere."""
    row = {"engine": draw.choice(ENGINES), **{k: draw.choice(v) for k, v in MORE.items()}}
    if draw.random() < 0.5:
        row["exit_hours"] = draw.choice(("1641", "1645.1", "1642.6", "1900", "900"))
        row["entry_hours"] = draw.choice(("", "0", "500"))
        return row
    at = draw.choice(("1640", "1641", "1642.6", "1645.1", "800"))
    exits = draw.choice(("1650", "1850.5", "1900"))
    return row | {"overhauled_at_hours": at, "entry_hours": at, "exit_hours": exits}


@pytest.mark.parametrize("seed", range(60))
def test_returns_of_the_same_engines(tmp_path, seed):
    draw = random.Random(seed)
    files = [
        pd.DataFrame([a_life(draw) for _ in range(draw.randint(1, 4))], columns=RETURN_NAMES)
        for _ in range(draw.randint(2, 3))
    ]
    basis = draw.choice(("since-new", "since-overhaul", "since-overhaul"))
    carry = draw.choice(("true", "false", "false"))
    hours = f'[hours]\nbasis = "{basis}"\ncarry_to_analysis_date = {carry}\n[treat]'
    conflict = draw.choice(("accept", "set-aside"))
    head = LENIENT.replace("[treat]", hours) + f'\nmerge-conflict = "{conflict}"\n'
    head += 'life-before-overhaul = "set-aside"\n'
    account_holds(lay_out_returns(tmp_path, files, head, "lives"), lenient=True)


@pytest.mark.parametrize("seed", range(60))
def test_logs_of_the_same_engines(tmp_path, seed):
    draw = random.Random(seed)
    files = []
    for _ in range(draw.randint(2, 3)):
        n = draw.randint(2, 9)
        hours = [draw.choice((0.0, 500.0, 1640.0, 1641.0, 1642.6, 1645.1, 1900.0, 2000.0))
                 for _ in range(n)]  # fmt: skip
        if draw.random() < 0.8:
            hours.sort()
        rows = [
            (
                draw.choice(ENGINES),
                f"{2010 + i}-0{draw.randint(1, 9)}-01",
                "" if draw.random() < 0.1 else h,
                draw.choice(LOG_WORDS),
                draw.choice(("piston", "prop strike", "", "planned overhaul")),
                draw.choice(("yes", "no", "")),
            )
            for i, h in enumerate(hours)
        ]
        files.append(pd.DataFrame(rows, columns=LOG_COLUMNS))
    basis = draw.choice(("since-new", "since-overhaul"))
    treat = draw.choice(("accept", "set-aside"))
    head = LENIENT.replace("[treat]", f'[hours]\nbasis = "{basis}"\n[treat]')
    kinds = sorted(set(LOG_FINDINGS) - {c.split(" ")[0] for c in LENIENT.splitlines()})
    head += "".join(f'\n"{c}" = "{treat}"' for c in kinds) + "\n"
    senders = draw.choice((1, 2, 3))
    account_holds(lay_out_returns(tmp_path, files, head, "log", senders=senders), lenient=False)


HISTORY_HEADS = (
    "engine", "in service", "hours at entry", "failed at", "failed on", "cause", "confirmed",
    "back in service", "back on", "repair", "new crank at", "overhauled at", "failed at 2",
    "cause 2", "back in service 2", "meter changed at", "meter changed on", "new meter reading",
    "prop strike at", "checked at", "removed at", "removed cause", "sold at", "hours now", "as of",
    "status", "notes", "meter", "colour",
)  # fmt: skip
HISTORY_CELLS = {
    "engine": ENGINES, "cause": ("piston", "?", "prop strike", ""), "repair": ("weld", "overhaul"),
    "confirmed": ("yes", "no", "maybe"), "meter": ("tach", "", "flight"),
    "status": ("running", "running", "", "failed", "sold", "lost", "planned-overhaul", "modified"),
    "notes": ("crankshaft broke", "ok"), "colour": ("red", "seized"),
}  # fmt: skip
HISTORY_HOURS = ("300", "500.5", "800", "800", "801", "1200", "1500", "1900")


def a_history(draw: random.Random, engine: str, odd: float) -> dict[str, str]:
    """Make a row of cells that mostly may be so, and of anything at all where `odd` has it."""
    row = {"engine": engine}
    hours = sorted(draw.sample(HISTORY_HOURS, len(HISTORY_HOURS)), key=float)
    for head in HISTORY_HEADS[1:]:
        beside = {"cause": "failed at", "confirmed": "failed at", "failed on": "failed at",
                  "cause 2": "failed at 2"}.get(head, "hours now")  # fmt: skip
        left_out = draw.random() < 0.6 or (beside not in row and not odd)
        kept = head == "hours now" or (head.startswith("failed at") and draw.random() < 0.5)
        if left_out and not kept:
            continue
        dated = head.endswith(" on") or head in ("in service", "as of")
        cells = ("2012-05-01", "2015-01-01", "2019-03-04", "2024-12-31") if dated else ()
        cells = HISTORY_CELLS.get(head, cells)
        row[head] = draw.choice(cells) if cells else hours.pop(0) if hours else "2000"
        if draw.random() < odd:
            row[head] = draw.choice(("", "NaN", "1e308", "=1+1", "x" * 300, "-1", "2024-02-30"))
    return row


@pytest.mark.parametrize("seed", range(24))
def test_histories_of_any_kind(tmp_path, seed):
    draw = random.Random(seed)
    odd = draw.choice((0.0, 0.0, 0.1, 0.5))
    files = []
    for _ in range(draw.randint(1, 2)):
        heads = [*HISTORY_HEADS] if draw.random() < 0.7 else [*HISTORY_HEADS[:1], "hours now",
                                                             *HISTORY_HEADS[3:9]]  # fmt: skip
        names = [draw.choice((f"E-{i}", f"E-{i}", f"E-{i}", *ENGINES)) for i in range(10, 19)]
        rows = [a_history(draw, e, odd) for e in names[: draw.randint(1, 9)]]
        files.append(pd.DataFrame(rows, columns=list(dict.fromkeys(heads))))
    basis = draw.choice(("since-new", "since-overhaul"))
    logged = draw.choice(("since-new", "since-new", "since-overhaul"))
    treat = draw.choice(("accept", "set-aside"))
    hours = f'[hours]\nbasis = "{basis}"\nlog_hours = "{logged}"\n[hours.factors]\n'
    head = LENIENT.replace("[treat]", hours + "tach = [1.1, 1.0, 1.2]\n[treat]")
    told = {c.split(" ")[0] for c in LENIENT.splitlines()}
    head += "".join(f'\n"{c}" = "{treat}"' for c in sorted(set(LOG_FINDINGS) - told))
    own = [f.code for f in HISTORIES if f.usual == "stop"]
    head += "".join(f'\n"{c}" = "set-aside"' for c in own) + "\n"
    folder = lay_out_returns(tmp_path, files, head, "histories")
    renews = draw.choice(("all", "part", "nothing"))
    text = (folder / "study.toml").read_text(encoding="utf-8")
    change = draw.choice(("", "total", "new-meter"))
    stated = f'after_meter_change = "{change}"\n[records.renews]\n"back in service" = "nothing"\n'
    stated += f'"new crank" = "{renews}"\nweld = "part"\n'
    whole = text.replace('shape = "histories"\n', f'shape = "histories"\n{stated}')
    parts = whole.split("[[records]]")  # maps stand below the keys of their file
    for i, part in enumerate(parts[1:], start=1):
        line = next(x for x in part.splitlines() if x.startswith("source"))
        rest = part.replace(line + "\n", "")
        parts[i] = rest.replace('shape = "histories"\n', f'shape = "histories"\n{line}\n')
    (folder / "study.toml").write_text("[[records]]".join(parts), encoding="utf-8")
    account_holds(folder, lenient=False)


VALUE = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**18), 10**18),
    st.floats(allow_nan=False, allow_infinity=False),
    st.datetimes(dt.datetime(1950, 1, 1), dt.datetime(2090, 1, 1)), st.times(),
    st.timedeltas(dt.timedelta(0), dt.timedelta(days=300)),
    st.sampled_from(["=1/0", "=A1", "running", "failed", "E-1", "12,5", "#N/A", "x" * 300]),
)  # fmt: skip


@given(
    rows=st.lists(st.lists(VALUE, min_size=1, max_size=20), max_size=6),
    merge=st.one_of(st.none(), st.tuples(st.integers(1, 6), st.integers(1, 6))),
)
@settings(FEW, max_examples=30)
def test_any_cells_in_a_workbook(tmp_path, rows, merge):
    book = openpyxl.Workbook()
    sheet = book.active
    for r in [NAMES, *rows]:
        sheet.append(r)
    if merge is not None:
        sheet.merge_cells(start_row=merge[0], end_row=merge[0] + 1, start_column=merge[1],
                          end_column=merge[1] + 1)  # fmt: skip
    out = io.BytesIO()
    book.save(out)
    account_holds(lay_out(tmp_path, out.getvalue(), "a.xlsx"), lenient=True)


@pytest.fixture(scope="module")
def workbook() -> bytes:
    book = openpyxl.Workbook()
    for r in [NAMES, ["E-1", "", "", "", 100, "", "running"]]:
        book.active.append(r)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@given(
    changes=st.lists(st.tuples(st.integers(0, 2**16), st.integers(0, 255)), max_size=3),
    cut=st.one_of(st.none(), st.integers(0, 2**16)),
)
@FEW
def test_a_workbook_cut_or_changed_anywhere(tmp_path, workbook, changes, cut):
    raw = bytearray(workbook)
    for at, value in changes:
        raw[at % len(raw)] = value
    data = bytes(raw if cut is None else raw[: cut % len(raw)])
    account_holds(lay_out(tmp_path, data, "a.xlsx"), lenient=False)


COLUMN = st.one_of(
    st.lists(st.one_of(st.none(), st.floats()), min_size=4, max_size=4),
    st.lists(st.one_of(st.none(), st.integers(-(2**62), 2**62)), min_size=4, max_size=4),
    st.lists(st.one_of(st.none(), st.text(max_size=8)), min_size=4, max_size=4),
    st.lists(st.lists(st.integers(0, 9), max_size=2), min_size=4, max_size=4),
    st.lists(st.booleans(), min_size=4, max_size=4),
)


@given(columns=st.dictionaries(st.sampled_from(NAMES), COLUMN, min_size=1))
@FEW
def test_any_columns_of_parquet(tmp_path, columns):
    import pyarrow as pa
    import pyarrow.parquet as pq

    columns = {"engine": ["E-1", "E-2", "E-3", "E-4"], "ending": ["running"] * 4, **columns}
    try:
        table = pa.table(columns)
    except (pa.ArrowException, UnicodeError):
        return
    pq.write_table(table, tmp_path / "t.parquet")
    data = (tmp_path / "t.parquet").read_bytes()
    account_holds(lay_out(tmp_path, data, "a.parquet"), lenient=True)


TOML_VALUE = st.recursive(
    st.one_of(
        st.booleans(), st.integers(-(2**70), 2**70), st.floats(), st.text(max_size=8),
        st.dates(), st.datetimes(), st.times(),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=5,
)  # fmt: skip
TABLES = st.sampled_from(
    ["study", "hours", "question", "groups", "check", "targets", "cost", "evidence", "fleet",
     "base_rate", "treat", "records", "delay", "nonsense"]
)  # fmt: skip
KEYS = st.sampled_from(
    ["title", "analysis_date", "confidence", "factors", "rules", "by", "margin", "shapes", "file",
     "built", "serials_file", "actions", "level", "causes", "columns", "seed", "sheet", "kinds"]
)  # fmt: skip


@given(
    raw=st.dictionaries(
        TABLES, st.one_of(TOML_VALUE, st.dictionaries(KEYS, TOML_VALUE, max_size=4),
                          st.lists(st.dictionaries(KEYS, TOML_VALUE, max_size=4), max_size=2))
    )
)  # fmt: skip
@settings(FEW, max_examples=100)
def test_any_tables_are_a_study_or_a_list_of_what_is_wrong(tmp_path, raw):
    out = parse_study(raw, tmp_path)
    if not isinstance(out, Study):
        assert out
        assert all(isinstance(p, str) and ":" in p for p in out)


@given(text=st.one_of(st.binary(max_size=120), st.text(max_size=120).map(
    lambda t: t.encode("utf-8", errors="surrogatepass"))))  # fmt: skip
@settings(FEW, max_examples=100)
def test_any_text_is_a_study_file_or_a_setting_error(tmp_path, text):
    (tmp_path / "study.toml").write_bytes(text)
    with pytest.raises(SettingError) as e:
        read_study(tmp_path)
    assert str(e.value).strip()


def test_the_order_of_rows_changes_nothing(tmp_path):
    rows = ["E-1,,500,running", "E-2,600,900,failed", "E-3,,x,running", "E-2,,650,running"]
    told = set()
    for order in itertools.permutations(rows):
        text = "engine,entry_hours,exit_hours,ending\n" + "\n".join(order) + "\n"
        study = read_study(lay_out(tmp_path, text.encode(), "a.csv"))
        records = read_records(study)
        audit = audit_records(study, records)
        spells = build_spells(study, records, audit).spells
        told.add(
            (
                tuple(sorted(zip(spells.unit.tolist(), spells.exit_upper.tolist(), strict=True))),
                tuple(sorted(audit.reasons.items())),
            )
        )
    assert told == {
        (
            (("E-1", 500.0), ("E-2", 900.0)),
            (("duplicate-life", 1), ("hours-unreadable", 1)),
        )
    }
