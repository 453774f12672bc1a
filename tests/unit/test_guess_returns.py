"""`begin --from` with sheets that name the same engines: merged, or left open where a guess hides.

The sheets are invented; which serials stand in both is their stated truth. That numbers of up to
three digits may be each sender's own is common practice, no source.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from fleetstats.core.errors import SettingError
from fleetstats.records.guess.guess import Guess
from fleetstats.records.guess.study import guess_study
from fleetstats.records.guess.write import begin_from_files
from fleetstats.records.readers import read_records
from fleetstats.study.study import STUDY_FILE, read_study

TODAY = dt.date(2026, 1, 31)
HEAD = "Serial no,Hours,Status,Cause,Last reading"


def two_clubs(folder: Path, mine: tuple[str, ...], theirs: tuple[str, ...]) -> list[Path]:
    """Two lists whose rows are an id, hours and a word each."""
    out = []
    for name, rows in (("north", mine), ("south", theirs)):
        lines = [HEAD]
        for row in rows:
            engine, hours, word = row.split()
            cause = "crankshaft" if word == "failed" else ""
            lines.append(f"{engine},{hours},{word},{cause},2025-05-01")
        path = folder / f"{name}.csv"
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        out.append(path)
    return out


def returns_of(files: list[Path]) -> Guess | None:
    settings = guess_study(files, today=TODAY).settings
    return next((g for g in settings if g.what == "merge.returns"), None)


OWN = ("4401 500 running", "4402 710 failed", "4403 300 running")


def test_lists_that_share_engines_are_merged_and_say_why(tmp_path: Path) -> None:
    files = two_clubs(tmp_path, OWN, ("4402 712 failed", "4403 350 running", "5500 90 running"))
    told = returns_of(files)
    assert told is not None
    assert (told.value, told.sure, told.n_rows) == ("true", "likely", 2)
    assert "2 engines stand in more than one of north.csv and south.csv" in told.reason
    begin_from_files(tmp_path / "new", files, today=TODAY)
    study = read_study(tmp_path / "new")
    assert study.settings.merge.returns is True
    assert "returns = true    # likely: 2 engines" in (tmp_path / "new" / STUDY_FILE).read_text()
    merged = read_records(study).merged
    assert merged is not None
    # one failure told twice
    assert (merged.n_events_before, merged.n_events_after) == (2, 1)


def test_lists_that_share_no_engine_are_not_asked_about(tmp_path: Path) -> None:
    assert returns_of(two_clubs(tmp_path, OWN, ("5500 90 running", "5501 700 failed"))) is None
    assert returns_of(two_clubs(tmp_path, OWN, ())[:1]) is None


def test_short_numbers_that_fail_in_both_lists_are_left_open_and_stop(tmp_path: Path) -> None:
    """Merged unasked, two failures of two engines named 2 would be counted as one."""
    files = two_clubs(
        tmp_path, ("1 500 running", "2 710 failed"), ("1 90 running", "02 712 failed")
    )
    told = returns_of(files)
    assert told is not None
    assert (told.sure, told.alternatives) == ("open", ("true", "false"))
    assert "failure of 2:" in told.reason
    new = tmp_path / "new"
    begin_from_files(new, files, today=TODAY)
    with pytest.raises(SettingError, match=r"merge\.returns"):
        read_study(new)
    text = (new / STUDY_FILE).read_text()
    assert "One of true, false. Until then: the study stops here." in text
    counts = {}
    for answer in ("true", "false"):
        (new / STUDY_FILE).write_text(text.replace('returns = "…"', f"returns = {answer}"))
        records = read_records(read_study(new))
        counts[answer] = sum(r.ending == "failed" for r in records.rows)
    assert counts == {"true": 1, "false": 2}


@pytest.mark.parametrize(
    "theirs",
    [("1 90 running", "2 712 running"), ("1 90 failed", "3 712 running")],
)
def test_short_numbers_stand_where_no_engine_fails_twice(
    tmp_path: Path, theirs: tuple[str, ...]
) -> None:
    told = returns_of(two_clubs(tmp_path, ("1 500 running", "2 710 failed"), theirs))
    assert told is not None
    assert told.sure == "likely"


def test_an_unknown_word_may_be_a_failure(tmp_path: Path) -> None:
    told = returns_of(two_clubs(tmp_path, ("2 710 failed",), ("2 712 conked", "9 50 running")))
    assert told is not None
    assert told.sure == "open"
