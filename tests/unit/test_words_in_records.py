"""A messy table with stated truth: hours and dates in words, each read so that the truth is within.

The truth of every row is written beside it by hand; no outside source.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fleetstats.advice.results import Results
from fleetstats.records.readers import read_records
from fleetstats.report.bundle.pseudonyms import pseudonymous_study
from fleetstats.spells import Spells
from fleetstats.spells.build import build_spells
from fleetstats.spells.bulk.bulk import build_bulk
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study

HEAD = (
    "engine,entry_hours,exit_hours,last_good_hours,ending,cause,confirmed,in_service,last_reading\n"
)
ROWS = [
    # entry, exit, last good, ending, cause, confirmed, in service, last reading
    # = true entry and exit, then entry, lower and upper hours of the spell
    (",approx 800,,running,,,,", (0, 780), (0, 750, 750)),
    (",~1050,,running,,,May 2019,12/2025", (0, 1060), (0, 997.5, 997.5)),
    (",>1500,,running,,,,", (0, 1720), (0, 1500, 1500)),
    (",1200-1300,,running,,,,", (0, 1210), (0, 1200, 1200)),
    (",1.2k,,running,,,2010,3.4.24", (0, 1233), (0, 1150, 1150)),
    (",771hrs,,running,,,,", (0, 771), (0, 771, 771)),
    (",ca. 900,,failed,piston,,,", (0, 930), (0, 850, 950)),
    (",mehr als 1400,,failed,piston,,,", (0, 1455), (0, 1400, 1400)),
    (",<300,,failed,piston,,,", (0, 120), (0, 0, 300)),
    (",1200 to 1300,,failed,piston,yes,,", (0, 1300), (0, 1200, 1300)),
    (",ca. 900,800,found-at-check,piston,,,", (0, 840), (0, 800, 950)),
    (",900,ca. 800,found-at-check,piston,,,", (0, 840), (0, 750, 900)),
    (",ca. 900,,removed,,,,", (0, 910), (0, 850, 850)),
    (",ca. 900,,failed,piston,no,,", (0, 910), (0, 850, 850)),
    ("approx 400,1100,,running,,,,", (380, 1100), (450, 1100, 1100)),
    ("approx 400,1100,,failed,piston,,,", (380, 1100), (450, 1100, 1100)),
    ("100-200,ca. 600,,failed,piston,,,", (180, 560), (200, 550, 650)),
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("messy")
    lines = [f"E-{i},{told}" for i, (told, _, _) in enumerate(ROWS)]
    (folder / "lives.csv").write_text(HEAD + "\n".join(lines) + "\n", encoding="utf-8")
    (folder / "study.toml").write_text(
        '[study]\ntitle = "messy"\nanalysis_date = 2025-12-31\nclaimed_interval_h = 700\n'
        '[merge]\nreturns = false\n[[records]]\nfile = "lives.csv"\nsource = "club"\n',
        encoding="utf-8",
    )
    return folder


@pytest.fixture(scope="module")
def built(folder: Path) -> tuple[Any, Any, Any]:
    from fleetstats.records.audit.audit import audit_records
    from fleetstats.records.readers import read_records

    study = read_study(folder)
    records = read_records(study)
    audit = audit_records(study, records)
    return records, audit, build_spells(study, records, audit)


def test_every_row_is_used_and_read_as_its_interval(built: tuple[Any, Any, Any]) -> None:
    _, audit, made = built
    assert audit.accounts[0].n_read == audit.accounts[0].n_used == len(ROWS)
    s = made.spells
    got = list(zip(s.entry.tolist(), s.exit_lower.tolist(), s.exit_upper.tolist(), strict=True))
    assert got == [edges for _, _, edges in ROWS]


def test_the_truth_lies_within_and_no_exposure_is_made_up(built: tuple[Any, Any, Any]) -> None:
    s = built[2].spells
    for i, (told, (entry, stop), _) in enumerate(ROWS):
        assert s.entry[i] >= entry, told
        if not s.failed[i]:
            assert s.exit_upper[i] <= stop, told
        elif "mehr als" in told:  # the earliest that it can be
            assert s.exit_upper[i] <= stop
        else:
            assert s.exit_lower[i] <= stop <= s.exit_upper[i], told


def test_words_alone_mark_the_intervals_that_bounds_hold_at_their_worse_end(
    built: tuple[Any, Any, Any],
) -> None:
    s = built[2].spells
    marked = [i for i in range(len(s)) if s.in_words[i]]
    exits = [ROWS[i][0].split(",")[1] for i in marked]
    assert exits == ["ca. 900", "<300", "1200 to 1300", "ca. 600"]


def test_each_way_is_told_once_with_how_many_cells(built: tuple[Any, Any, Any]) -> None:
    told = [f for f in built[1].findings if f.code in ("hours-in-words", "dates-in-words")]
    said = [f.message for f in told]
    assert [m.split(",")[0] for m in said] == [
        "Words for “about” in 10 cells", "A range in 3 cells", "Thousands in 1 cell",
        "Words for “at least” in 2 cells", "Words for “at most” in 1 cell",
        "A year of two digits in 1 cell", "A month for a date in 2 cells",
        "A year for a date in 1 cell",
    ]  # fmt: skip
    assert {f.severity for f in told} == {"warning", "note"}
    assert "'approx 800'" in said[0]


def test_whole_and_by_chunks_say_the_same(folder: Path, built: tuple[Any, Any, Any]) -> None:
    bulk = build_bulk(read_study(folder))

    def rows(s: Spells) -> list[tuple[float, ...]]:
        columns = (s.entry, s.exit_lower, s.exit_upper, s.event, s.in_words)
        table = np.repeat(np.column_stack(columns), s.weight.astype(int), axis=0)
        return sorted(map(tuple, table.tolist()))

    assert rows(bulk.spells) == rows(built[2].spells)
    told = [f for f in built[1].findings if f.code in ("hours-in-words", "dates-in-words")]
    theirs = [f for f in bulk.findings if f.code in ("hours-in-words", "dates-in-words")]
    assert sorted(f.message for f in theirs) == sorted(f.message for f in told)
    assert bulk.counts["hours-in-words"] == 5
    assert bulk.n_read == bulk.n_used == len(ROWS)


def test_hours_in_words_go_through_a_pseudonymous_copy(
    folder: Path, built: tuple[Any, Any, Any], tmp_path: Path
) -> None:
    """The copy tells a doubtful end as the range that reads as it."""
    anew = read_records(pseudonymous_study(read_study(folder), tmp_path / "anew").study).rows
    at_home = built[2].rows

    def ends(rows: Any) -> list[tuple[float, float]]:
        return sorted((r.exit_h if r.exit_low_h is None else r.exit_low_h, r.exit_h) for r in rows)

    assert sum(low < high for low, high in ends(at_home)) >= 2
    for was, now in zip(ends(at_home), ends(anew), strict=True):
        assert now == pytest.approx(was, abs=1.0)


def test_the_study_answers(folder: Path) -> None:
    results = analyse(read_study(folder))
    assert isinstance(results, Results)
    assert results.spells.in_words.sum() == 4.0
    claim = results.chapters["claim"]
    assert claim.failure_low < claim.failure_high < 1.0


DATED = "engine,exit_hours,ending,in_service,observed_from,last_reading\n"


def test_a_coarse_date_stands_in_the_middle_and_keeps_its_span(
    audited: Callable[..., Any],
) -> None:
    _, records, audit = audited(DATED + "A,300,running,2019,,May 2024\n")
    (x,) = records.rows
    assert (x.in_service, x.last_reading) == (dt.date(2019, 7, 2), dt.date(2024, 5, 16))
    assert x.days_of("in_service") == (dt.date(2019, 1, 1), dt.date(2019, 12, 31))
    assert x.days_of("observed_from") is None
    assert audit.ok


def test_dates_that_may_be_in_order_are_in_order(audited: Callable[..., Any]) -> None:
    """In service in 2024, read on 3 March 2024: the year's middle would lie after the reading."""
    _, records, audit = audited(
        DATED + "A,30,running,2024,,2024-03-03\nB,30,running,2024,,2023-12-31\n"
    )
    assert records.rows[0].in_service == dt.date(2024, 3, 3)
    backwards = [f for f in audit.findings if f.code == "dates-backwards"]
    assert [f.engine for f in backwards] == ["B"]


def test_use_is_judged_by_the_widest_span(audited: Callable[..., Any]) -> None:
    """900 h from some day of 2024 to its end: too many from July on, none too many from January."""
    _, _, audit = audited(DATED + "A,900,running,2024,,2024-12-31\n")
    assert not [f for f in audit.findings if f.code in ("use-implausible", "hours-exceed-calendar")]
    _, _, audit = audited(DATED + "A,900,running,2024-07-01,,2024-12-31\n")
    assert [f.code for f in audit.findings if f.code == "use-implausible"]


@pytest.mark.parametrize(
    ("row", "code"),
    [
        (",lots,,running", "hours-unreadable"),
        (",approx 1.200,,running", "hours-unreadable"),
        (">500,900,,running", "hours-unreadable"),
        (",approx 200000,,running", "hours-impossible"),
        (",<300,,running", "no-exposure"),
        ("approx 800,840,,running", "no-exposure"),
        ("approx 800,840,,failed", "failure-without-exposure"),
        ("900,approx 800,,failed", "exit-before-entry"),
    ],
)
def test_what_words_leave_open_is_refused_as_before(
    audited: Callable[..., Any], row: str, code: str
) -> None:
    head = "engine,entry_hours,exit_hours,last_good_hours,ending\n"
    _, records, audit = audited(head + f"A,{row}\nB,,500,,running\n")
    assert code in {f.code for f in audit.findings}
    assert [x.engine for x in records.rows] == ["B"]


LOG = "engine,date,hours,kind,cause\n"
LOGGED = '[[records]]\nfile = "lives.csv"\nsource = "club A"\nshape = "log"\n'


def test_words_in_a_log(audited: Callable[..., Any]) -> None:
    """A reads to its lower edge, B fails between, C is first seen at the upper edge."""
    text = LOG + (
        "A,2019-01-01,0,installed,\nA,May 2021,approx 800,reading,\n"
        "B,2019-01-01,0,installed,\nB,2021-05-01,870,reading,\nB,2021-09-01,ca. 900,failed,piston\n"
        "C,2019-01-01,approx 400,reading,\nC,2021-05-01,900,reading,\n"
        "D,2019-01-01,0,installed,\nD,2020-01-01,780,reading,\nD,2020-06-01,~800,reading,\n"
    )
    study, records, audit = audited(text, records=LOGGED)
    s = build_spells(study, records, audit).spells
    ages = zip(s.entry.tolist(), s.exit_lower.tolist(), s.exit_upper.tolist(), strict=True)
    got = dict(zip(s.unit.tolist(), ages, strict=True))
    assert got == {"A": (0, 750, 750), "B": (0, 870, 950), "C": (450, 900, 900), "D": (0, 780, 780)}
    assert s.in_words.tolist() == [0.0, 1.0, 0.0, 0.0]
    (a,) = [x for x in records.rows if x.engine == "A"]
    assert a.days_of("last_reading") == (dt.date(2021, 5, 1), dt.date(2021, 5, 31))
    said = [f.message.split(",")[0] for f in audit.findings if f.code.endswith("-in-words")]
    assert said == ["Words for “about” in 4 cells", "A month for a date in 1 cell"]


def test_a_clock_in_words_ties_nothing(audited: Callable[..., Any]) -> None:
    text = LOG + "A,2019-01-01,0,installed,\nA,2020-01-01,approx 300,meter-changed,\n"
    _, _, audit = audited(text, records=LOGGED)
    assert "log-hours-unreadable" in {f.code for f in audit.findings}
