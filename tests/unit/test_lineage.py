"""From a printed figure to its rows: the table closes, and figures rest on what they name.

No outside source: that an account closes and that a figure follows from what it says it follows
from is what the words mean. Counts are made again here with plain Python from the written files.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from made_studies import DEMOS, document_of, results_of

from fleetstats.advice.advise import advise_hours
from fleetstats.advice.key_figures import figure_of
from fleetstats.advice.results import Results
from fleetstats.report.lineage import LIVES_COLUMNS, lineage_html, lineage_json, lives_csv
from fleetstats.report.write import trace_files
from fleetstats.studies.analyse import analyse, read_lives_of
from fleetstats.studies.lineage import Lineage, list_lives, trace_figures
from fleetstats.studies.reads import Reads, reads_of, telling
from fleetstats.study.settings import Settings
from fleetstats.study.study import read_study
from fleetstats.survival.weibull.fit_weibull import try_fit

DATA = Path(__file__).parents[2] / "datasets"
MADE_FROM_ROWS = (
    "engines-used", "lives", "failures", "engine-hours", "oldest-age-seen", "end-of-the-evidence",
    "lives-that-reached-the-claim", "hours-past-the-claim",
)  # fmt: skip


def table_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def written(results: Results) -> tuple[list[dict[str, str]], dict[str, Any], str]:
    """Return the table of lives, the lineage and the page of a study, as its files hold them."""
    _, out = trace_files(results)
    return table_of(out["lives.csv"]), json.loads(out["lineage.json"]), out["lineage.html"]


# -- the account ---------------------------------------------------------------------------------


def account(rows: list[dict[str, str]]) -> tuple[set[tuple[str, str]], set[tuple[str, str]]]:
    """Return the places of rows that are in lives, and of those that are in none."""
    lives, none = set(), set()
    for x in rows:
        numbers, files = x["row"].split(";"), x["file"].split(";")
        places = set(zip(files * len(numbers) if len(files) == 1 else files, numbers, strict=False))
        (lives if x["life"] else none).update(places)
    return lives, none


@pytest.mark.parametrize("name", DEMOS)
def test_the_account_of_rows_closes_on_every_demo(name: str) -> None:
    results = results_of(name)
    rows, data, _ = written(results)
    lives, none = account(rows)
    assert not lives & none
    audit = results.audit
    assert (len(lives), len(none)) == (audit.n_used, audit.n_set_aside)
    assert len(lives) + len(none) == audit.n_read == data["lives"]["rows_read"]
    assert {x["use"] == "counted" for x in rows if not x["life"]} <= {False}
    assert tuple(rows[0]) == LIVES_COLUMNS


MESSY = """\
engine,source,build,entry_hours,exit_hours,ending,cause,last_reading_date,modified_at_hours,modified_to
A-1,club,std,,700,Motorplatzer,piston,2025-03-01,,
A-2,club,std,0,900,running,,2025-03-01,,
A-2,club,std,0,900,running,,2025-03-01,,
A-3,club,std,950,900,running,,2025-03-01,,
A-4,club,std,0,,failed,piston,2025-03-01,,
A-5,club,std,0,800,failed,magneto,2025-03-01,,
A-6,club,std,0,812.5,removed,sold,2025-03-01,400,upr
A-7,club,std,0,640,failed,pistn,2025-03-01,,
,club,std,0,640,running,,2025-03-01,,
A-8,club,std,0,655,running,,2025-03-01,,
A-9,other,std,0,410,failed,,2025-03-01,,
"""
TREATED = """
[question]
name = "engine failure"
outside_causes = ["magneto"]
[[question.rules]]
source = "other"
counts_as = "excluded"
reason = "not in this question"
[treat]
exit-before-entry = "set-aside"
hours-missing = "set-aside"
engine-missing = "set-aside"
duplicate-row = "set-aside"
[[records]]
file = "lives.csv"
source = "club A"
[records.endings]
Motorplatzer = "failed"
"""


@pytest.fixture
def messy(make_study: Callable[..., Any]) -> Any:
    """Return the lives of a table with everything odd in it that a study can treat."""
    study = make_study(MESSY, TREATED, records="")
    records, audit, built = read_lives_of(study)
    shell = replace(results_of("quiet-fleet"), study=study, records=records, audit=audit,
                    built=built)  # fmt: skip
    return shell, list_lives(shell)


def test_the_account_closes_on_messy_records(messy: Any) -> None:
    results, lives = messy
    assert lives.holds
    assert (len(lives.rows_in_lives), len(lives.rows_in_none)) == (
        results.audit.n_used, results.audit.n_set_aside,
    )  # fmt: skip
    assert results.audit.n_set_aside == 4
    assert [x.use for x in lives.lines if x.life and not x.counted] == [
        "set aside: not in this question"
    ]
    # a life that is cut at a modification stands twice, on one row
    parts = [x for x in lives.counted if x.rows == (("lives.csv", 8),)]
    assert [(x.build, x.entry_h, x.exit_high_h) for x in parts] == [
        ("std", 0.0, 400.0), ("upr", 400.0, 812.5),
    ]  # fmt: skip


def test_each_line_tells_words_meaning_and_rule(messy: Any) -> None:
    _, lives = messy
    by_row = {x.rows[0][1]: x for x in lives.lines}
    mapped, spelt, outside, ruled = by_row[2], by_row[9], by_row[7], by_row[12]
    assert mapped.words_said == "Motorplatzer / piston"
    assert "records[1].endings.Motorplatzer" in mapped.rule
    assert (mapped.event, mapped.exit_low_h, mapped.weight) == ("failed", 700.0, 1.0)
    assert spelt.words_said == "failed / pistn"
    assert outside.event == "competing"
    assert "question.rules[1]" in ruled.rule
    assert ruled.event == ""
    aside = by_row[5]
    assert (aside.life, aside.event) == ("", "")
    assert "treat.exit-before-entry" in aside.rule
    assert aside.use.startswith("set aside: ")


def test_a_failure_between_checks_has_two_ends() -> None:
    rows, *_ = written(results_of("tow-clubs"))
    spells = results_of("tow-clubs").spells
    between = [x for x in rows if x["life"] and float(x["exit_low_h"]) < float(x["exit_high_h"])]
    assert len(between) == int(spells.interval_known.sum()) > 0
    assert {x["event"] for x in between} == {"failed"}


# -- figures made again from the written table alone ----------------------------------------------


def made_again(rows: list[dict[str, str]], data: dict[str, Any]) -> dict[str, float]:
    """Return the counted figures, from the lines of the table and the settings alone."""
    lives = [x for x in rows if x["use"] == "counted"]
    at = [(float(x["entry_h"]), float(x["exit_low_h"]), float(x["exit_high_h"]),
           float(x["weight"]), x["event"], x["engine"]) for x in lives]  # fmt: skip
    settings = {k: v["value"] for k, v in data["settings"].items()}
    claim, least = settings["study.claimed_interval_h"], settings["evidence.min_at_risk"]
    risk = {t: sum(w for e, _, x, w, *_ in at if e < t <= x) for t in {x for _, _, x, *_ in at}}
    return {
        "engines-used": len({engine for *_, engine in at}),
        "lives": sum(w for _, _, _, w, *_ in at),
        "failures": sum(w for _, _, _, w, event, _ in at if event == "failed"),
        "engine-hours": sum(w * (0.5 * (a + b) - e) for e, a, b, w, *_ in at),
        "oldest-age-seen": max(x for _, _, x, *_ in at),
        "end-of-the-evidence": max((t for t, n in risk.items() if n >= least), default=0.0),
        "lives-that-reached-the-claim": sum(w for e, _, x, w, *_ in at if e < claim <= x),
        "hours-past-the-claim": sum(w * (x - max(e, claim)) for e, x, _, w, *_ in at if x > claim),
    }


@pytest.mark.parametrize("name", DEMOS)
def test_counted_figures_come_out_of_the_written_table_alone(name: str) -> None:
    rows, data, _ = written(results_of(name))
    again = made_again(rows, data)
    for key in MADE_FROM_ROWS:
        # sums are added up in another order here, so the last digits of hours may differ
        assert data["figures"][key]["value"] == pytest.approx(again[key], rel=1e-12), key


@pytest.mark.parametrize("name", ["new-mode", "on-condition-2025"])
def test_the_account_closes_on_demos_that_are_not_analysed_here(name: str) -> None:
    study = read_study(DATA / name)
    records, audit, built = read_lives_of(study)
    shell = replace(results_of("quiet-fleet"), study=study, records=records, audit=audit,
                    built=built)  # fmt: skip
    lives = list_lives(shell)
    assert lives is not None
    assert lives.holds
    assert (len(lives.rows_in_lives), len(lives.counted)) == (audit.n_used, len(built.spells))


@pytest.mark.parametrize("name", DEMOS)
def test_every_figure_of_every_demo_is_made_again_as_printed(name: str) -> None:
    lineage = trace_figures(results_of(name))
    assert [f.key for f in lineage.figures if not f.made_again] == []
    assert len({f.key for f in lineage.figures}) == len(lineage.figures) > 20


@pytest.mark.parametrize("name", DEMOS)
def test_the_digest_of_a_figure_is_that_of_its_lines(name: str) -> None:
    _, out = trace_files(results_of(name))
    lines = out["lives.csv"].split("\r\n")[1:-1]
    by_life = {x.split(",", 1)[0]: x + "\r\n" for x in lines}
    for key, f in json.loads(out["lineage.json"])["figures"].items():
        if f["lives"] is None:
            continue
        counted = [k for k, x in zip(by_life, table_of(out["lives.csv"]), strict=False)
                   if k and x["use"] == "counted"]  # fmt: skip
        mine = f["lives"].get("life", counted)
        text = "".join(by_life[k] for k in mine)
        assert f["lives"]["sha256"] == hashlib.sha256(text.encode()).hexdigest(), key
        assert f["lives"]["count"] == len(mine)


@pytest.mark.parametrize("name", ["no claim", "very few lives"])
def test_a_study_with_little_in_it_is_traced_as_far_as_it_goes(name: str) -> None:
    lineage = trace_figures(results_of(name))
    assert [f.key for f in lineage.figures if not f.made_again] == []
    assert ("claimed-hours" in lineage) == (results_of(name).advice.verdict is not None)
    assert lineage.lives is not None
    assert lineage.lives.holds


def test_a_figure_that_is_not_what_its_computation_gives_says_so() -> None:
    results = results_of("quiet-fleet")
    v = results.advice.verdict
    assert v is not None
    bent = replace(v, reliability=replace(v.reliability, low=0.999))
    lineage = trace_figures(replace(results, advice=replace(results.advice, verdict=bent)))
    wrong = [f.key for f in lineage.figures if not f.made_again]
    assert wrong == ["chance-of-failure-by-the-claim-upper-bound"]
    assert "does not come out as printed" in lineage_html(lineage)


# -- settings: what is listed, and what is not ----------------------------------------------------

OTHER: dict[type, Callable[[Any], Any]] = {
    float: lambda x: 0.5 * x + 0.013, int: lambda x: x + 1, bool: lambda x: not x,
    str: lambda x: x + "x", tuple: lambda x: x, dict: lambda x: x,
}  # fmt: skip


def changed(settings: Settings, keep: set[str]) -> tuple[Settings, int]:
    """Return settings with every number, flag and word changed but those to keep; and how many."""
    n, tables = 0, {}
    for table in fields(settings):
        keys = getattr(settings, table.name)
        new = {}
        for f in fields(keys):
            now = getattr(keys, f.name)
            kind = next((k for k in (bool, int, float, str) if isinstance(now, k)), None)
            if f"{table.name}.{f.name}" not in keep and kind is not None:
                new[f.name] = OTHER[kind](now)
        n += len(new)
        tables[table.name] = replace(keys, **new)
    return replace(settings, **tables), n


@pytest.fixture(scope="module")
def towed() -> tuple[Results, Lineage]:
    results = results_of("tow-clubs")
    return results, trace_figures(results)


PARTS_OF = {
    "end-of-the-evidence": lambda a: a.horizon.supported_h,
    "chance-of-failure-by-the-claim-upper-bound": lambda a: 1.0 - a.verdict.reliability.low,
    "verdict-on-the-claimed-interval": lambda a: a.verdict.word,
    "weibull-shape": lambda a: a.wear_out.shape.estimate,
    "life-of-the-target-share-lower-edge": lambda a: a.reliability.life.low,
    "age-by-the-accepted-chance-between-checks": lambda a: a.risk.chosen.age.estimate,
    "cheapest-age": lambda a: a.cost.optimum.estimate,
    "hours-from-which-overhaul-is-planned": lambda a: figure_of(a).plan_from_h,
}


@pytest.mark.parametrize("key", sorted(PARTS_OF))
def test_a_figure_stands_whatever_the_settings_that_it_does_not_list(
    key: str, towed: tuple[Results, Lineage]
) -> None:
    results, lineage = towed
    other, n = changed(results.settings, set(lineage[key].settings))
    assert n >= 50
    fresh = results.spells.select([True] * len(results.spells))  # nothing kept from before
    # what a figure does not read may be impossible, so only its own part is asked
    again = _part_alone(key, fresh, other)
    assert again == lineage[key].value


def _part_alone(key: str, spells: Any, settings: Settings) -> Any:
    from fleetstats.studies.lineage.parts import PARTS, Workshop

    results = results_of("tow-clubs")
    base = replace(results, study=replace(results.study, settings=settings),
                   built=replace(results.built, spells=spells))  # fmt: skip
    names = {"end-of-the-evidence": "horizon", "weibull-shape": "wear-out", "cheapest-age": "cost",
             "life-of-the-target-share-lower-edge": "reliability",
             "age-by-the-accepted-chance-between-checks": "risk",
             "hours-from-which-overhaul-is-planned": "band"}  # fmt: skip
    name = names.get(key, "verdict")
    assert name in PARTS
    made = Workshop(results=base).part(name).made
    attribute = {"wear-out": "wear_out", "band": "overhaul_band"}.get(name, name)
    return PARTS_OF[key](replace(results.advice, **{attribute: made}))


LISTED = {
    "targets.reliability": (0.80, "chance-of-failure-by-the-claim-upper-bound", False),
    "study.confidence": (0.5, "chance-of-failure-by-the-claim-upper-bound", True),
    "study.claimed_interval_h": (600.0, "chance-of-failure-by-the-claim-upper-bound", True),
    "evidence.min_at_risk": (40, "end-of-the-evidence", True),
    "cost.ratio": (30.0, "cheapest-age", True),
    "targets.risk_per_check": (0.02, "age-by-the-accepted-chance-between-checks", True),
}
"""A setting, another value, a figure that lists it, and whether that figure moves with it."""


@pytest.mark.parametrize("setting", sorted(LISTED))
def test_a_listed_setting_moves_its_figure(setting: str, towed: tuple[Results, Lineage]) -> None:
    results, lineage = towed
    value, key, moves = LISTED[setting]
    assert setting in lineage[key].settings
    table, name = setting.split(".")
    s = results.settings
    s = replace(s, **{table: replace(getattr(s, table), **{name: value})})
    now = PARTS_OF[key](advise_hours(results.spells, results.fit, s, curves=False))
    assert (now != lineage[key].value) == moves


# -- lives: what is listed, and what is not -------------------------------------------------------


def without(results: Results, life: int) -> Results:
    """Return results from the same lives but one, as far as they go without chapters."""
    keep = [i + 1 != life for i in range(len(results.spells))]
    spells = results.spells.select(keep)
    rows = tuple(x for x, k in zip(results.built.rows, keep, strict=True) if k)
    verdicts = tuple(x for x, k in zip(results.built.verdicts, keep, strict=True) if k)
    fit = try_fit(spells)
    built = replace(results.built, spells=spells, rows=rows, verdicts=verdicts)
    advice = advise_hours(spells, fit, results.settings, curves=False)
    return replace(results, built=built, fit=fit, advice=advice, chapters={})


COUNTED = ("failures", "oldest-age-seen", "end-of-the-evidence", "hours-past-the-claim",
           "lives-that-reached-the-claim")  # fmt: skip


@pytest.mark.parametrize("key", COUNTED)
def test_a_life_that_is_not_listed_moves_no_count(key: str, towed: tuple[Results, Lineage]) -> None:
    results, lineage = towed
    listed = set(lineage[key].lives)
    others = [i for i in range(1, len(results.spells) + 1) if i not in listed]
    assert others
    for life in (others[0], others[len(others) // 2], others[-1]):
        assert trace_figures(without(results, life))[key].value == lineage[key].value


@pytest.mark.parametrize("key", ["failures", "oldest-age-seen", "lives-that-reached-the-claim"])
def test_a_listed_life_taken_away_moves_figure_and_digest(
    key: str, towed: tuple[Results, Lineage]
) -> None:
    results, lineage = towed
    less = trace_figures(without(results, lineage[key].lives[0]))
    assert less[key].value != lineage[key].value
    assert digests(less)[key] != digests(lineage)[key]


def digests(lineage: Lineage) -> dict[str, str]:
    data = json.loads(lineage_json(lineage))["figures"]
    return {k: f["lives"]["sha256"] for k, f in data.items() if f["lives"]}


# -- the note of what is read ---------------------------------------------------------------------


def test_settings_that_tell_are_equal_and_note_no_copying() -> None:
    plain, reads = results_of("quiet-fleet").settings, Reads()
    told = telling(plain, reads)
    assert told == plain
    assert plain == told
    copy = replace(told, study=replace(told.study, confidence=0.5))
    assert reads.keys == ()
    assert (copy.study.confidence, copy.check.interval_h) == (0.5, plain.check.interval_h)
    assert reads.keys == ("check.interval_h", "study.confidence") == reads_of(copy)
    assert reads_of(plain) == ()


def test_settings_that_leave_for_another_process_tell_all_that_may_be_read() -> None:
    import pickle

    plain, reads = results_of("quiet-fleet").settings, Reads()
    back = pickle.loads(pickle.dumps(telling(plain, reads)))
    assert back == plain
    assert type(back.study) is type(plain.study)
    assert {"study.seed", "cost.ratio"} <= set(reads.keys)


def test_the_table_of_lives_lists_what_its_reading_read(towed: tuple[Results, Lineage]) -> None:
    _, lineage = towed
    assert {"question.level", "treat.actions", "merge.returns"} <= set(lineage.settings_of_lives)
    assert not {"cost.ratio", "targets.reliability"} & set(lineage.settings_of_lives)


def test_every_setting_read_is_one_that_there_is(towed: tuple[Results, Lineage]) -> None:
    results, lineage = towed
    s = results.settings
    keys = {f"{t.name}.{f.name}" for t in fields(s) for f in fields(getattr(s, t.name))}
    read = {k for f in lineage.figures for k in f.settings} | set(lineage.settings_of_lives)
    assert {s.key for s in lineage.settings} == read <= keys


# -- page, links, bytes ---------------------------------------------------------------------------


def linked(name: str) -> Iterator[tuple[str, str]]:
    """Yield what the answer of a demo links: the text and the figure."""
    links, _ = trace_files(results_of(name))
    assert links is not None
    for line in document_of(name).answer:
        parts = links.link_figures(line)
        assert "".join(text for text, _ in parts) == line
        yield from ((text, key) for text, key in parts if key)


def test_the_answer_links_its_figures_to_their_own() -> None:
    assert list(linked("tow-clubs")) == [
        ("1,200 h", "claimed-hours"),
        ("19 in 100", "chance-of-failure-by-the-claim-upper-bound"),
        ("10 in 100", "accepted-chance-of-failure"),
        ("700 h", "hours-from-which-overhaul-is-planned"),
        ("900 h", "hours-at-which-overhaul-is-expected"),
        ("1,150 h", "hours-past-which-records-speak-for-no-engine"),
        ("27", "failures"),
        ("176", "engines-used"),
        ("160,911", "engine-hours"),
        ("2,240 h", "end-of-the-evidence"),
    ]


@pytest.mark.parametrize("name", DEMOS)
def test_what_is_linked_prints_the_figure(name: str) -> None:
    lineage = trace_figures(results_of(name))
    found = list(linked(name))
    assert len(found) >= 6
    for text, key in found:
        said = text.removesuffix(" h")
        assert any(said in p or p.startswith("no ") for p in lineage[key].printed), (text, key)


def test_the_page_of_the_report_opens_a_figure_and_the_page_of_the_lineage_has_it() -> None:
    import re

    from fleetstats.report.html import page_html

    links, out = trace_files(results_of("tow-clubs"))
    page = page_html(document_of("tow-clubs"), links=links)
    asked = re.findall(r'href="lineage\.html#([^"]+)"', page)
    there = set(re.findall(r'<details class="trace" id="([^"]+)"', out["lineage.html"]))
    assert len(asked) >= 15
    assert set(asked) <= there
    assert {"build-uprated-chance-of-failure-by-the-claim-upper-bound",
            "weak-point-1-fail-estimated"} <= set(asked)  # fmt: skip


def test_the_page_needs_nothing_from_elsewhere_and_nothing_in_it_can_break_out() -> None:
    results = results_of("quiet-fleet")
    row = replace(results.built.rows[0], engine="</script><b>x", build='"><img src=x>')
    spells = results.spells.replace(
        unit=["</script><b>x", *results.spells.unit[1:]],
        build=['"><img src=x>', *results.spells.build[1:]],
    )
    bent = replace(results, chapters={},
                   built=replace(results.built, spells=spells,
                                 rows=(row, *results.built.rows[1:])))  # fmt: skip
    page = lineage_html(trace_figures(bent))
    assert "default-src 'none'" in page
    assert "<b>x" not in page
    assert "<img" not in page
    assert "http" not in page.replace("http-equiv", "")


def test_a_long_table_is_cut_on_the_page_and_whole_in_the_file(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from fleetstats.report.lineage import page

    monkeypatch.setattr(page, "MOST_LIVES", 100)
    lineage = trace_figures(results_of("quiet-fleet"))
    assert lineage.lives is not None
    text = lineage_html(lineage)
    assert "This page holds the first 100 of 260 lines; all stand in lives.csv." in text
    assert text.count('"running","1"]') == 100
    assert len(table_of(lives_csv(lineage.lives))) == 260


def test_equal_results_give_equal_bytes() -> None:
    first = trace_files(results_of("workshop"))[1]
    second = trace_files(analyse(read_study(DATA / "workshop")))[1]
    assert first == second
    assert set(first) == {"lives.csv", "lineage.json", "lineage.html"}


def test_records_read_by_chunks_have_no_table_of_lives_and_say_why() -> None:
    results = analyse(read_study(DATA / "quiet-fleet"), chunks=True)
    _, out = trace_files(results)
    assert set(out) == {"lineage.json", "lineage.html"}
    data = json.loads(out["lineage.json"])
    assert data["lives"]["file"] is None
    assert "by chunks" in data["lives"]["why"]
    assert "by chunks" in out["lineage.html"]
    whole = trace_figures(results_of("quiet-fleet"))
    for key in ("failures", "engine-hours", "end-of-the-evidence", "claimed-hours"):
        assert data["figures"][key]["value"] == pytest.approx(whole[key].value, rel=1e-12)


def test_a_report_of_many_studies_has_no_lineage() -> None:
    assert trace_files(None) == (None, {})
