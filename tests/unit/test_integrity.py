"""Signs that ask for a second look: each found where it was planted, and not where it was not.

All records are invented, with no source; each test plants one sign in a fleet without any.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from made_lives import before, life

from fleetstats.chapters.compose import compose_report
from fleetstats.chapters.integrity import Integrity, look_again
from fleetstats.chapters.integrity.lives import CONTRADICTIONS
from fleetstats.chapters.integrity.values import SIGNS, RecordSign
from fleetstats.studies.analyse import analyse
from fleetstats.studies.single import cautions_at, read_base
from fleetstats.study.study import Study, read_study

COLUMNS = "engine,exit_hours,ending,cause,confirmed,in_service_date,last_reading_date,ended_date"
STUDY = """\
[study]
title = "made"
analysis_date = 2026-01-31
{claim}
[targets]
reliability = {target}
[treat]
{treat}
"""
FILE = '[[records]]\nfile = "{file}"\nsource = "{source}"\n'
DAY = dt.date(2026, 1, 31)


def clean(n: int = 120) -> list[list[str]]:
    """Return engines with honest hours: each its own rate, its own day, and all digits."""
    rng = np.random.default_rng(8)
    rows = []
    for i in range(n):
        begun = dt.date(2014, 1, 5) + dt.timedelta(days=int(rng.integers(0, 1500)))
        read = DAY - dt.timedelta(days=int(rng.integers(2, 200)))
        years = (read - begun).days / 365.25
        h = round(float(years * rng.uniform(60.0, 160.0)), 1)
        rows.append([f"E-{i + 1000}", f"{h:g}", "running", "", "", f"{begun}", f"{read}", ""])
    return rows


def study(
    folder: Path,
    *lists: list[list[str]],
    claim: float | None = 600.0,
    treat: str = "",
    target: float = 0.9,
    sources: tuple[str, ...] = ("club",),
) -> Study:
    text = STUDY.format(
        claim="" if claim is None else f"claimed_interval_h = {claim}", treat=treat, target=target
    )
    for i, rows in enumerate(lists):
        file = f"part{i}.csv"
        lines = [COLUMNS, *(",".join(r) for r in rows)]
        folder.joinpath(file).write_text("\n".join(lines) + "\n", "utf-8")
        text += FILE.format(file=file, source=sources[i % len(sources)])
    folder.joinpath("study.toml").write_text(text, "utf-8")
    return read_study(folder)


def looked(s: Study) -> Integrity:
    base = read_base(s)
    x = look_again(base.records, base.built, base.fit, base.settings)
    assert x is not None
    return x


def sign(x: Integrity, key: str) -> RecordSign:
    return next(s for s in x.signs if s.key == key)


def only(x: Integrity, key: str) -> RecordSign:
    """Return a sign, which must be the only one found."""
    assert [s.key for s in x.signs if s.n_found] == [key]
    return sign(x, key)


def test_honest_records_bear_no_sign(tmp_path: Path) -> None:
    x = looked(study(tmp_path, clean()))
    assert [s.key for s in x.signs] == list(SIGNS)
    assert all(s.n_found == 0 for s in x.signs)
    assert sign(x, "last-digits").n_looked == 120
    assert sign(x, "use-alike").n_looked == 120
    assert x.sentence.startswith("None of 9 signs")
    assert x.cautions == ()


def test_digits_that_a_hand_prefers(tmp_path: Path) -> None:
    """Hours that end in 7 in half of the rows; expected is one in ten."""
    rows = clean()
    for r in rows[::2]:
        r[1] = f"{int(float(r[1]) // 10 * 10 + 7)}"
    s = only(looked(study(tmp_path, rows)), "last-digits")
    assert s.n_found >= 60
    assert "end in 7, 12 expected" in s.found
    assert s.left_out is None


def test_use_that_cannot_be(tmp_path: Path) -> None:
    """2,000 h in a year and a half: what the audit calls implausible, counted by its rule."""
    rows = clean()
    for r in rows[:3]:
        r[5], r[6], r[1] = "2024-07-01", "2025-12-20", f"{2400 + len(r[0])}.3"
    s = only(looked(study(tmp_path, rows)), "use-impossible")
    assert s.n_found == 3
    assert s.left_out is not None


def test_hours_that_were_worked_out_from_one_rate(tmp_path: Path) -> None:
    rows = clean()
    for r in rows[:12]:
        days = (dt.date.fromisoformat(r[6]) - dt.date.fromisoformat(r[5])).days
        r[1] = f"{105.0 * days / 365.25:.1f}"
    s = only(looked(study(tmp_path, rows)), "use-alike")
    assert s.n_found >= 12
    assert "with 105 h a year" in s.found


def test_ends_on_one_day(tmp_path: Path) -> None:
    rows = clean()
    for i, r in enumerate(rows[:12]):
        day = "2024-05-01" if i < 6 else f"20{16 + i}-03-0{i - 3}"
        r[2], r[3], r[6], r[7] = "removed", "prop strike", "", day if i < 9 else f"2025-0{i - 6}-11"
    s = only(looked(study(tmp_path, rows)), "ends-one-day")
    assert s.n_found == 6
    assert "6 of 12 on 2024-05-01" in s.found


def test_three_ends_on_one_of_forty_days_are_chance(tmp_path: Path) -> None:
    rows = clean()
    for i, r in enumerate(rows[:40]):
        day = dt.date(2025, 3, 1) + dt.timedelta(days=7 if i < 3 else i)
        r[2], r[3], r[6], r[7] = "removed", "prop strike", "", f"{day}"
    s = sign(looked(study(tmp_path, rows)), "ends-one-day")
    assert (s.n_looked, s.n_found) == (40, 0)


def test_readings_on_one_day_are_said_and_change_nothing(tmp_path: Path) -> None:
    rows = clean()
    for r in rows[:70]:
        r[6] = "2026-01-31"
    x = looked(study(tmp_path, rows))
    s = only(x, "read-one-day")
    assert s.n_found == 70
    assert (s.left_out, s.failed) == (None, None)
    assert x.cautions == ()


def test_an_engine_not_read_for_long(tmp_path: Path) -> None:
    rows = clean()
    for r in rows[:4]:
        r[6] = "2024-02-01"
    s = only(looked(study(tmp_path, rows)), "not-read")
    assert s.n_found == 4
    assert s.failed is not None


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ({7: "2025-11-03"}, "running with an end date"),
        ({3: "prop strike"}, "running with a cause"),
    ],
)
def test_cells_that_contradict_each_other(tmp_path: Path, cells: dict[int, str], told: str) -> None:
    rows = clean()
    for at, text in cells.items():
        rows[5][at] = text
    s = only(looked(study(tmp_path, rows)), "contradictory")
    assert s.n_found == 1
    assert told in s.found
    assert s.places == ("E-1005 (part0.csv row 7)",)


def test_each_contradiction_is_told_from_the_row_that_is_whole() -> None:
    whole = {
        "running": life(last_reading=before(20)),
        "removed": life(ending="removed", cause="prop strike", ended=before(30)),
    }
    odd = {
        "running with an end date": life(ended=before(20)),
        "running with a cause": life(cause="piston"),
        "running with a fault confirmed": life(confirmed=True),
        "running with a teardown": life(found_at_teardown=False),
        "read after the end": life(ending="removed", ended=before(30), last_reading=before(20)),
    }
    for name, row in odd.items():
        assert [w for w, test in CONTRADICTIONS.items() if test(row)] == [name]
    for row in whole.values():
        assert not any(test(row) for test in CONTRADICTIONS.values())


def test_read_after_the_end(tmp_path: Path) -> None:
    rows = clean()
    rows[5][2:4], rows[5][6:8] = ["removed", "prop strike"], ["2025-12-01", "2025-03-01"]
    s = only(looked(study(tmp_path, rows)), "contradictory")
    assert s.found == "1 read after the end"
    assert s.failed is None


def test_engines_gone_from_the_next_file(tmp_path: Path) -> None:
    """Three engines of last year's list are not in this year's, and ended nowhere."""
    now = clean()
    last = [[*r] for r in now]
    for r in last:
        r[6] = "2025-03-01"
        r[1] = f"{float(r[1]) * 0.9:.1f}"
    s = sign(looked(study(tmp_path, last, now[3:])), "gone")
    assert (s.n_looked, s.n_found) == (120, 3)
    assert s.places[0] == "E-1000 (part0.csv row 2)"
    other = tmp_path / "other"
    other.mkdir()
    two = looked(study(other, last, now[3:], sources=("club", "shop")))
    assert sign(two, "gone").n_found == 0


def test_hours_that_stand_still_between_returns(tmp_path: Path) -> None:
    now = clean()
    last = [[*r] for r in now]
    for i, r in enumerate(last):
        r[6] = "2024-08-01"
        r[1] = r[1] if i < 2 else f"{float(r[1]) * 0.85:.1f}"
    s = sign(looked(study(tmp_path, last, now, sources=("club", "shop"))), "standing-still")
    assert (s.n_looked, s.n_found) == (120, 2)


def test_hours_that_stand_still_in_a_log(tmp_path: Path) -> None:
    lines = ["engine,date,hours,kind"]
    for i in range(30):
        lines += [f"L-{i},2019-0{i % 9 + 1}-02,0,installed"]
        lines += [f"L-{i},2023-0{i % 9 + 1}-1{i % 10},{400 + 3 * i},reading"]
        last = 400 + 3 * i + (0 if i < 2 else 90)
        lines += [f"L-{i},2025-1{i % 3}-1{i % 10},{last},reading"]
    # stored for years and back for months: the same hours, and no sign
    lines += ["L-99,2019-01-02,0,installed", "L-99,2021-01-02,300,removed"]
    lines += ["L-99,2025-03-02,300,returned", "L-99,2025-11-02,360,reading"]
    tmp_path.joinpath("log.csv").write_text("\n".join(lines) + "\n", "utf-8")
    text = STUDY.format(claim="claimed_interval_h = 300", treat="", target=0.9)
    text += '[[records]]\nfile = "log.csv"\nshape = "log"\nsource = "shop"\n'
    tmp_path.joinpath("study.toml").write_text(text, "utf-8")
    s = sign(looked(read_study(tmp_path)), "standing-still")
    assert (s.n_looked, s.n_found) == (31, 2)
    assert {p.split(" ")[0] for p in s.places} == {"L-0", "L-1"}


# -- what it does to the claim ---------------------------------------------------------------------


def test_rows_that_carry_the_claim_stand_in_its_sentence(tmp_path: Path) -> None:
    """Without 60 impossible engines the others do not show 1,300 h for 95 in 100."""
    rows = clean()
    for i, r in enumerate(rows[:60]):
        r[5], r[6], r[1] = "2024-06-01", f"2025-0{i % 9 + 1}-1{i % 10}", f"{2300 + 7.3 * i:.1f}"
    s = study(tmp_path, rows, claim=1300.0, target=0.95)
    results = analyse(s)
    assert results.advice.verdict is not None
    assert results.advice.verdict.word == "supported"
    x = results.chapters["integrity"]
    assert isinstance(x, Integrity)
    (c,) = x.cautions
    assert c.code == "second-look"
    assert "60 lives ask for a second look" in results.advice.verdict.sentence
    assert any(t.key == "integrity" for t in compose_report(results).sections)
    assert any(k.code == "second-look" for k in cautions_at(read_base(s), 1300.0))


def test_engines_that_are_gone_are_counted_failed(tmp_path: Path) -> None:
    now = clean()
    last = [[*r] for r in now]
    for r in last:
        r[6] = "2025-03-01"
        r[1] = f"{float(r[1]) * 0.9:.1f}"
    x = looked(study(tmp_path, last, now[30:], claim=800.0))
    assert x.as_recorded.shown
    assert [c.code for c in x.cautions if c.code.startswith("second")] == ["second-look-failed"]
    assert "failures at their last hours" in x.cautions[0].text


def test_counting_engines_as_failed_never_betters_the_bound(tmp_path: Path) -> None:
    """Failures at high hours make a steep curve, which would speak for the hours before them."""
    rows = sorted(clean(), key=lambda r: float(r[1]))
    for r in rows[-8:]:
        r[6], r[5] = "2024-12-20", "2010-01-01"
    s = only(looked(study(tmp_path, rows)), "not-read")
    assert s.failed is not None
    x = looked(study(tmp_path, rows))
    assert s.failed.failure_high is not None
    assert x.as_recorded.failure_high is not None
    assert s.failed.failure_high >= x.as_recorded.failure_high


def test_without_a_claim_hours_stand_in_place_of_the_bound(tmp_path: Path) -> None:
    rows = clean()
    rows[5][3] = "prop strike"
    x = looked(study(tmp_path, rows, claim=None))
    s = only(x, "contradictory")
    assert x.as_recorded.hours is not None
    assert s.failed is not None
    assert s.failed.hours is not None
    assert s.failed.hours < x.as_recorded.hours
    assert x.cautions == ()
