"""The engines built add up, however messy the records; and what is stated is said as such.

``built = used + unknown fate + excluded by a rule + set aside - not among those built``: logic,
with no outside source. Records are invented.
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from fleetstats.chapters.compose import compose_report
from fleetstats.document.document import Statement, Table
from fleetstats.document.population_words import say_built, say_level, say_starts, say_sum_of_built
from fleetstats.spells.asserted import says_start
from fleetstats.spells.funnel import Funnel
from fleetstats.studies.analyse import analyse, read_lives_of
from fleetstats.study.settings import LEVELS

HEAD = "engine,entry_hours,exit_hours,ending,cause,source\n"
PLAIN = "".join(f"E-{i},0,{400 + 10 * i},running,,club\n" for i in range(12))
MESSY = {
    "none missing": (PLAIN, 12, ""),
    "some missing": (PLAIN, 20, ""),
    "excluded by a rule": (
        PLAIN + "X-1,0,300,failed,recall lot,club\nX-2,0,310,failed,recall lot,club\n", 20, ""
    ),
    "one life of two excluded": (
        PLAIN + "E-0,450,500,failed,recall lot,club\n", 12, ""
    ),
    "set aside for want of hours": (
        PLAIN + "S-1,0,,running,,club\nS-2,0,see the book,running,,club\n", 20,
        '[treat]\nhours-missing = "set-aside"\nhours-unreadable = "set-aside"\n',
    ),
    "set aside, and every engine built is named": (
        PLAIN + "S-1,0,,running,,club\n", 13, '[treat]\nhours-missing = "set-aside"\n'
    ),
    "more than built": (PLAIN, 10, '[treat]\nmore-than-built = "accept"\n'),
    "written in two ways": (PLAIN + "E 03,0,430,running,,shop\n", 14, ""),
    "merged returns": (PLAIN + "E-3,0,431,running,,shop\nE-4,0,440,running,,shop\n", 15, ""),
    "one id that is two engines": (
        PLAIN + "E-3,0,900,failed,piston,shop\n", 15,
        '[[merge.decisions]]\nengine = "E-3"\ntake = "separate"\nreason = "asked both"\n',
    ),
    "no engine in a row": (
        PLAIN + ",0,500,running,,club\n", 15, '[treat]\nengine-missing = "set-aside"\n'
    ),
    "all of it": (
        PLAIN + "X-1,0,300,failed,recall lot,club\nS-1,0,,running,,club\nE-3,0,431,running,,shop\n"
        ",0,500,running,,club\nX-2,0,310,failed,recall lot,club\n", 40,
        '[treat]\nhours-missing = "set-aside"\nengine-missing = "set-aside"\n',
    ),
}  # fmt: skip
RULE = '[[question.rules]]\ncause = "recall lot"\ncounts_as = "excluded"\nreason = "recalled lot"\n'
SUM = re.compile(
    r"(?P<built>[\d,]+) built = (?P<used>[\d,]+) used"
    r"(?: \+ (?P<unknown>[\d,]+) of unknown fate)?"
    r"(?: \+ (?P<excluded>[\d,]+) excluded by a rule)?"
    r"(?: \+ (?P<aside>[\d,]+) set aside(?: or excluded by a rule)?)?"
    r"(?: − (?P<less>[\d,]+) not among those built)?"
)


def read_sum(text: str) -> dict[str, int]:
    """Return the parts of a line of the sum; the test fails where the line is none."""
    m = SUM.search(text)
    assert m is not None, text
    return {k: int((v or "0").replace(",", "")) for k, v in m.groupdict().items()}


def adds_up(x: dict[str, int]) -> bool:
    return x["built"] == x["used"] + x["unknown"] + x["excluded"] + x["aside"] - x["less"]


def funnel_of(study: Any) -> Funnel:
    funnel: Funnel = read_lives_of(study)[2].funnel
    assert funnel.holds
    return funnel


def studied(make_study: Any, rows: str, built: int, more: str, serials: str = "") -> Any:
    fleet = f"[fleet]\nbuilt = {built}\n" if built else "[fleet]\n"
    if serials:
        fleet += 'serials_file = "serials.csv"\n'
    return make_study(
        HEAD + rows, fleet + more + RULE, more={"serials.csv": serials} if serials else None
    )


@pytest.mark.parametrize("case", MESSY)
def test_the_line_adds_up(case: str, make_study: Any) -> None:
    rows, built, more = MESSY[case]
    study = studied(make_study, rows, built, more)
    funnel = funnel_of(study)
    line = say_sum_of_built(funnel)
    told = read_sum(line)
    assert adds_up(told), line
    assert told["built"] == built
    spells = read_lives_of(study)[2].spells
    assert told["used"] == spells.n_engines
    # nobody of unknown fate is said only where every engine built is there with hours
    zero_said = "0 of unknown fate" in line and told["unknown"] == 0
    assert zero_said == (built == told["used"] + told["excluded"])


def test_what_the_parts_are(make_study: Any) -> None:
    def parts(case: str) -> tuple[int, ...]:
        told = read_sum(say_sum_of_built(funnel_of(studied(make_study, *MESSY[case]))))
        return tuple(told[k] for k in ("used", "unknown", "excluded", "aside", "less"))

    assert parts("none missing") == (12, 0, 0, 0, 0)
    assert parts("some missing") == (12, 8, 0, 0, 0)
    assert parts("excluded by a rule") == (12, 6, 2, 0, 0)
    assert parts("one life of two excluded") == (12, 0, 0, 0, 0)
    assert parts("set aside for want of hours") == (12, 6, 0, 2, 0)
    assert parts("set aside, and every engine built is named") == (12, 0, 0, 1, 0)
    assert parts("more than built") == (12, 0, 0, 0, 2)
    assert parts("written in two ways") == (12, 2, 0, 0, 0)
    assert parts("merged returns") == (12, 3, 0, 0, 0)
    assert parts("one id that is two engines") == (13, 2, 0, 0, 0)
    assert parts("no engine in a row") == (12, 3, 0, 0, 0)
    assert parts("all of it") == (12, 25, 2, 1, 0)


@pytest.mark.parametrize("n_listed", [12, 14])
def test_a_list_of_serials_shows_what_a_number_only_states(n_listed: int, make_study: Any) -> None:
    serials = "serial\n" + "".join(f"E-{i}\n" for i in range(n_listed))
    listed = funnel_of(studied(make_study, PLAIN, 0, "", serials))
    stated = funnel_of(studied(make_study, PLAIN, 12, ""))
    assert adds_up(read_sum(say_sum_of_built(listed)))
    assert "as stated, not shown" in say_built(stated)
    assert "all of them" not in say_built(stated)
    if n_listed == 12:
        assert "all of them are in the records: each serial of the list was found" in say_built(
            listed
        )
    else:
        assert "2 of them stand in no record" in say_built(listed)


def test_a_list_with_an_engine_that_it_does_not_name_adds_up_too(make_study: Any) -> None:
    serials = "serial\n" + "".join(f"E-{i}\n" for i in range(1, 14))
    more = '[treat]\nserial-not-built = "accept"\n'
    funnel = funnel_of(studied(make_study, PLAIN, 0, more, serials))
    told = read_sum(say_sum_of_built(funnel))
    assert adds_up(told)
    assert (told["built"], told["used"], told["unknown"], told["less"]) == (13, 12, 2, 1)
    assert not funnel.all_listed


def test_a_short_list_beside_a_greater_number_shows_nothing(make_study: Any) -> None:
    serials = "serial\n" + "".join(f"E-{i}\n" for i in range(12))
    funnel = funnel_of(studied(make_study, PLAIN, 15, "", serials))
    assert not funnel.all_listed
    assert read_sum(say_sum_of_built(funnel))["unknown"] == 3


@pytest.mark.parametrize("chunks", [False, True])
def test_every_face_says_one_sum(chunks: bool, make_study: Any) -> None:
    """The claim box, the inspector's page and the chapter on the population; also by chunks."""
    rows = "".join(f"E-{i},0,{400 + 10 * i},running\n" for i in range(12)) + "S-1,0,,running\n"
    study = make_study(
        "engine,entry_hours,exit_hours,ending\n" + rows,
        'claimed_interval_h = 300\n[fleet]\nbuilt = 20\n[treat]\nhours-missing = "set-aside"\n'
        "[merge]\nreturns = false\n",
    )
    results = analyse(study, chunks=chunks)
    report = compose_report(results)
    starts = say_starts(results.built.asserted)
    assert "12 lives count as followed from their start" in starts
    texts = [b.text for s in report.sections for b in s.blocks if isinstance(b, Statement)]
    assert texts.count(starts) == 1
    said = []
    for section in (*report.summaries, *report.sections):
        for block in section.blocks:
            if isinstance(block, Statement):
                said += SUM.findall(block.text)
            elif isinstance(block, Table):
                said += [m for row in block.rows for c in row for m in SUM.findall(str(c))]
    assert len(said) == 3
    assert set(said) == {("20", "12", "7", "", "1", "")}


def life_of(make_study: Any, row: str, **more: str) -> Any:
    head = "engine,entry_hours,exit_hours,ending,in_service_date,observed_from_date\n"
    return read_lives_of(make_study(head + row + "\n", **more))[2].rows[0]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("A,,500,running,,", False),  # a blank cell says nothing
        ("A,0,500,running,,", True),  # the source says it
        ("A,,500,running,2015-01-01,", False),  # new then, and followed since when?
        ("A,,500,running,2015-01-01,2015-01-01", True),
        ("A,,500,running,2015-01-01,2014-12-01", True),
        ("A,,500,running,,2015-01-01", False),  # followed since then, and new when?
    ],
)
def test_what_says_that_a_life_was_followed_from_its_start(
    row: str, said: bool, make_study: Any
) -> None:
    life = life_of(make_study, row)
    assert life.entry_h == 0.0
    assert says_start(life) is said


def test_starts_are_said_as_shown_or_as_stated(make_study: Any) -> None:
    told, blank = (
        read_lives_of(
            make_study("engine,entry_hours,exit_hours,ending\n"
                       + "".join(f"E-{i},{cell},{400 + i},running\n" for i in range(12)))
        )[2].asserted
        for cell in ("0", "")
    )  # fmt: skip
    assert told is not None
    assert blank is not None
    assert (told.n_from_start, told.n_from_start_unsaid) == (12, 0)
    assert (blank.n_from_start, blank.n_from_start_unsaid) == (12, 12)
    assert "stated, not shown" not in say_starts(told)
    assert "of 12 of them neither a date nor the source says so" in say_starts(blank)


CHECKED = {
    "no check": ("A,500,running,\nB,600,running,\n", False),
    "a clean one": ("A,500,running,450\nB,600,running,\n", True),
    "a fault found at one": ("A,500,found-at-check,450\nB,600,running,\n", True),
}


@pytest.mark.parametrize("case", CHECKED)
@pytest.mark.parametrize("level", ["beyond-limits", "confirmed-removal"])
def test_none_beyond_limits_is_said_only_where_somebody_looked(
    case: str, level: str, make_study: Any
) -> None:
    rows, seen = CHECKED[case]
    study = make_study(
        "engine,exit_hours,ending,last_good_hours\n" + rows,
        f'claimed_interval_h = 300\n[question]\nlevel = "{level}"\n',
    )
    results = analyse(study)
    asserted = results.built.asserted
    assert asserted is not None
    assert asserted.checks_seen is seen
    words = say_level(level, unlooked=results.built.unlooked)
    assert words.startswith(LEVELS[level])
    unsaid = level == "beyond-limits" and not seen
    assert ("no check is in the records" in words) == unsaid
    # the verb, the page and the caution say one thing
    claim: Any = results.chapters["claim"]
    assert words in claim.may_quote
    assert ("as-stated/checks" in _cases(results)) == unsaid


def _cases(results: Any) -> set[str]:
    return {
        "as-stated/checks"
        for c in results.advice.cautions
        if c.code == "as-stated" and c.where == "definitions"
    }
