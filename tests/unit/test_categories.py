"""Columns of words: what they mean, what nobody knows, and from which hours a value holds."""

import pytest

from fleetstats.core.errors import SettingError
from fleetstats.records.told_values import from_hours, moved, read_told, value_at, write_told
from fleetstats.spells.build import build_spells
from fleetstats.spells.by_values import split_by_values, year_at
from fleetstats.spells.event import Event
from fleetstats.vocabulary.fields.categories import CATEGORIES, NOT_GIVEN, level_of, near_level

ASK = '[categories]\ncolumns = ["use", "fuel"]\n'


@pytest.mark.parametrize("column", CATEGORIES)
def test_each_word_means_one_level(column):
    seen = {}
    for level, words in CATEGORIES[column].levels.items():
        for word in (level, *words):
            assert level_of(column, word.upper(), {}) == level
            assert seen.setdefault(word, level) == level, word


def test_a_map_comes_before_our_words_and_an_open_column_takes_any():
    words = {"use": {"private": "school"}, "operator": {"AC Nord": "north"}}
    assert level_of("use", "Private", words) == "school"
    assert level_of("use", "private", {}) == "touring"
    assert level_of("operator", "Any  Club", {}) == "Any Club"
    assert level_of("operator", "Any Club", words) is None  # mapped, so closed
    assert level_of("operator", "ac nord", words) == level_of("operator", "north", words) == "north"
    assert {level_of("use", w, {}) for w in ("", "-", "n/a", "not given", "?")} == {NOT_GIVEN}
    assert near_level("use", "trainning", {}) == "school"


def test_a_cell_may_tell_a_change_and_is_written_as_it_is_read():
    told = read_told("touring; school from 300; towing from 640.5 h", 20.0, ".", "h")
    assert told == ((20.0, "touring"), (300.0, "school"), (640.5, "towing"))
    assert read_told(write_told(told), 20.0, ".", "h") == told
    assert read_told("towing; school from 18000", 0.0, ".", "min")[1] == (300.0, "school")
    values = {"use": told}
    assert [value_at(values, "use", h) for h in (0, 299, 300, 9e3)] == [
        "touring", "touring", "school", "towing"
    ]  # fmt: skip
    assert value_at(values, "fuel", 1.0) == ""
    assert moved(values, by=2.0, less=40.0)["use"] == (
        (0.0, "touring"), (560.0, "school"), (1241.0, "towing")
    )  # fmt: skip
    assert from_hours(values, 400.0)["use"] == ((400.0, "school"), (640.5, "towing"))
    # what tells no change is one word, for the audit to ask about
    for odd in ("towing; school", "touring; school from noon", "a; b from 300; c from 200"):
        assert read_told(odd, 0.0, ".", "h") == ((0.0, odd),)


def lives_of(audited, rows, settings=ASK, **more):
    study, records, audit = audited(rows, settings, **more)
    built = build_spells(study, records, audit)
    keys = study.settings.categories
    return audit, split_by_values(built.rows, built.spells, keys.columns, keys.words), built


def test_unknown_words_are_told_once_with_the_line_to_add_and_no_life_is_dropped(audited):
    rows = (
        "engine,exit_hours,ending,use,fuel type\n"
        "A,500,running,shcool,avgas\nB,600,failed,Shcool,\nC,700,running,tug,100LL\n"
        "D,800,running,Schulung,n/a\n"
    )
    audit, cut, _ = lives_of(audited, rows)
    found = [f for f in audit.findings if f.code == "category-unknown"]
    told = [(f.row, f.column, f.value) for f in found]
    assert told == [(2, "use", "shcool"), (5, "use", "Schulung")]
    assert "2 lives counted as not given" in found[0].message
    assert '[categories.words.use]: "shcool" = "school"' in found[0].advice
    assert '"Schulung" = one of "towing", "school"' in found[1].advice
    (blank,) = [f for f in audit.findings if f.code == "category-blank"]
    assert "'fuel' is empty for 2 lives of 4" in blank.message
    assert cut.labels["use"].tolist() == [NOT_GIVEN, NOT_GIVEN, "towing", NOT_GIVEN]
    assert cut.labels["fuel"].tolist() == ["leaded", NOT_GIVEN, "leaded", NOT_GIVEN]
    line = '[categories.words.use]\n"shcool" = "school"\n"Schulung" = "school"\n'
    audit, cut, _ = lives_of(audited, rows, ASK + line)
    assert not [f for f in audit.findings if f.code == "category-unknown"]
    assert cut.labels["use"].tolist() == ["school", "school", "towing", "school"]


LOG = "engine,date,hours,kind,use\n"


def test_a_change_in_a_log_cuts_the_spell_and_the_failure_is_the_later_use_s(audited):
    """Told at 400 h: 400 h of school, then late entry at 400 h into towing until the failure."""
    rows = LOG + (
        "A,2020-01-01,0,installed,\nA,2020-06-01,100,reading,Training\n"
        "A,2021-01-01,400,reading,tow\nA,2021-06-01,500,reading,towing\nA,2022-01-01,650,failed,\n"
        "B,2020-01-01,0,installed,school\nB,2022-01-01,300,reading,\n"
    )
    log = '\n[[records]]\nfile = "lives.csv"\nshape = "log"\n'
    audit, cut, built = lives_of(audited, rows, records=log)
    s = cut.spells
    assert list(zip(s.unit, s.entry, s.exit_upper, cut.labels["use"], strict=True)) == [
        ("A", 0.0, 400.0, "school"), ("A", 400.0, 650.0, "towing"), ("B", 0.0, 300.0, "school")
    ]  # fmt: skip
    assert s.event.tolist() == [Event.CENSORED, Event.FAILED, Event.CENSORED]
    assert cut.n_changed == 1
    assert cut.entry_year.tolist() == pytest.approx([2020.0, 2021.23, 2020.0], abs=0.01)
    # nothing else sees the cut: one life of A, and the same hours
    assert len(built.spells) == 2
    assert s.exposure_h == built.spells.exposure_h
    assert not [f for f in audit.findings if f.code.startswith("category-changed")]


def test_a_change_told_by_the_end_counts_from_the_event_before(audited):
    rows = LOG + (
        "A,2020-01-01,0,installed,school\nA,2021-01-01,400,reading,\nA,2022-01-01,650,failed,tow\n"
        "B,2020-01-01,0,installed,school\nB,2022-01-01,300,failed,tow\n"
    )
    log = '\n[[records]]\nfile = "lives.csv"\nshape = "log"\n'
    audit, cut, _ = lives_of(audited, rows, records=log)
    s = cut.spells
    assert list(zip(s.unit, s.entry, s.exit_upper, cut.labels["use"], strict=True)) == [
        ("A", 0.0, 400.0, "school"), ("A", 400.0, 650.0, "towing"), ("B", 0.0, 300.0, "towing")
    ]  # fmt: skip
    told = [f for f in audit.findings if f.code == "category-changed-at-end"]
    assert [f.row for f in told] == [4, 6]
    assert "taken at 400 h" in told[0].advice


def test_a_failure_known_to_an_interval_keeps_the_use_of_its_beginning(audited):
    rows = (
        "engine,exit_hours,last_good_hours,ending,use\n"
        'A,500,450,found-at-check,"school; towing from 480"\n'
        'B,500,450,found-at-check,"school; towing from 430"\n'
    )
    _, cut, _ = lives_of(audited, rows)
    s = cut.spells
    assert cut.labels["use"].tolist() == ["school", "school", "towing"]
    assert list(zip(s.entry, s.exit_lower, s.exit_upper, strict=True)) == [
        (0.0, 450.0, 500.0), (0.0, 430.0, 430.0), (430.0, 450.0, 500.0)
    ]  # fmt: skip


def test_values_follow_the_clock_of_the_life(audited):
    """Tach hours become flight hours; a life since overhaul begins at the overhaul."""
    rows = 'engine,exit_hours,ending,meter,use\nA,1000,running,tach,"school; towing from 500"\n'
    _, cut, _ = lives_of(audited, rows, ASK + "[hours.factors]\ntach = [1.1, 1.0, 1.2]\n")
    assert cut.spells.exit_upper[0] == pytest.approx(550.0)
    rows = (
        "engine,entry_hours,exit_hours,ending,overhauled_at_hours,use\n"
        'A,800,1000,running,800,"school; towing from 950"\n'
    )
    _, cut, _ = lives_of(audited, rows, ASK + '[hours]\nbasis = "since-overhaul"\n')
    assert cut.spells.exit_upper.tolist() == [150.0, 200.0]


def test_two_returns_of_one_engine_keep_both_words_and_say_where_they_differ(audited):
    rows = "engine,exit_hours,ending,use,fuel\nA,500,running,school,\n"
    other = "engine,exit_hours,ending,use,fuel\nA,700,running,towing,avgas\n"
    records = '\n[[records]]\nfile = "lives.csv"\nsource = "a"\n\n[[records]]\nfile = "b.csv"\nsource = "b"\n'  # fmt: skip # noqa: E501
    _, records_read, audit = audited(rows, ASK, records=records, more={"b.csv": other})
    (life,) = audit.used
    assert {c: v[0][1] for c, v in life.categories.items()} == {"use": "towing", "fuel": "avgas"}
    assert "use 'towing' from" in str(records_read.to_dict())


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ('columns = ["hours=x"]', "cannot be the name"),
        ('columns = ["build"]', "cannot be the name"),
        ('columns = ["use", "use"]', "stands twice"),
        ('columns = ["use"]\nadjust = ["bild"]', "Did you mean 'build'?"),
        ('columns = ["use"]\nat = ["towing"]', "not written as name=value"),
        ('columns = ["use"]\nmissing = "drop"', 'must be one of "level", "set-aside"'),
        ('columns = ["use"]\n[categories.words]\nuse = "x"', "must be a table"),
        ('columns = ["use"]\n[categories.words.usage]\n"x" = "y"', "Did you mean 'use'?"),
        ('columns = ["use"]\n[categories.words.use]\n"x" = 3', "must be a text"),
    ],
)
def test_what_is_wrong_in_the_table_is_told_by_its_key(make_study, lines, says):
    with pytest.raises(SettingError, match="categories") as told:
        make_study(settings=f"[categories]\n{lines}\n")
    assert says in str(told.value)


def test_years_lie_on_the_line_between_two_dated_hours(audited):
    rows = (
        "engine,entry_hours,exit_hours,ending,in_service_date,last_reading_date,use\n"
        "A,250,1000,running,2020-01-01,2024-01-01,tow\nB,250,1000,running,,2024-01-01,tow\n"
    )
    _, _, built = lives_of(audited, rows)
    a, b = built.rows
    assert year_at(a, 250.0) == pytest.approx(2021.0, abs=0.01)
    assert year_at(a, 1000.0) == pytest.approx(2024.0, abs=0.01)
    assert year_at(b, 250.0) != year_at(b, 250.0)  # NaN: no date tells it
