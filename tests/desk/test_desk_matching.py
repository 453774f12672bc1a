"""Dropped sheets are matched by the guesses of `begin`, and what is open is one click each.

The shops are invented, and their truth is what they were drawn with (`shop_makers.py`).
"""

from __future__ import annotations

import re
import time
import tomllib
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from desk_client import Served, served
from shop_made import Shop, draw, write_sheets
from shop_makers import SHOPS

from fleetstats.core.errors import SettingError
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.guess.write import begin_from_files
from fleetstats.records.readers import read_records
from fleetstats.spells.build import build_spells
from fleetstats.study.study import read_study

ACTS = {"none failed": 2, "three failures": 4, "three builds": 5, "day book": 3,
        "club returns": 4, "hostile": 6}  # fmt: skip
"""Acts in the Records room: choosing the files, adding them, and a click for each open thing."""

FORM = re.compile(r'<form method="post" action="/records/answer".*?</form>', re.DOTALL)
HIDDEN = re.compile(r'<input type="hidden" name="([^"]+)" value="([^"]*)"')
BUTTON = re.compile(r'<button type="submit"[^>]*name="value" value="([^"]*)"[^>]*>(.*?)</button>',
                    re.DOTALL)  # fmt: skip


def plain(page: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def asks(desk: Served) -> list[tuple[dict[str, str], dict[str, str]]]:
    """What the page asks: what each form carries, and its buttons with what they say."""
    return [
        ({n: unescape(v) for n, v in HIDDEN.findall(f)},
         {unescape(v): plain(t) for v, t in BUTTON.findall(f)})
        for f in FORM.findall(desk.see("/records"))
    ]  # fmt: skip


def click(desk: Served, key: str, value: str) -> None:
    """Press the button of an open thing; it must be there."""
    held, buttons = next((h, b) for h, b in asks(desk) if h["key"] == key)
    assert value in buttons
    reply = desk.act("/records/answer", held, value=value)
    assert reply.tone == "done", reply.said


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Served]:
    folder = tmp_path / "study"
    folder.mkdir()
    with served(folder) as client:
        yield client


@pytest.mark.parametrize("name", SHOPS)
def test_each_shop_goes_through_by_clicks_and_gives_the_prompts_study(
    name: str, desk: Served, tmp_path: Path
) -> None:
    raw = tmp_path / "raw"
    raw.mkdir()
    shop = SHOPS[name](raw)
    assert desk.drop({p.name: p.read_bytes() for p in shop.files}, day="").tone == "done"
    acts = 2
    while open_now := asks(desk):
        key = open_now[0][0]["key"]
        click(desk, key, shop.answers[key])
        acts += 1
    assert acts == ACTS[name]
    assert "# OPEN" not in desk.study().replace("# OPEN: not used", "")
    study = read_study(desk.folder)
    records = read_records(study)
    audit = audit_records(study, records)
    assert audit.ok
    spells = build_spells(study, records, audit).spells
    assert spells is not None
    assert (spells.n_engines, spells.n_failed) == (shop.truth.engines, shop.truth.failures)
    assert spells.exposure_h == pytest.approx(shop.truth.hours_h, abs=0.01)
    account = f"{audit.n_read} rows read = {audit.n_used} used + {audit.n_set_aside} set aside"
    assert account in plain(desk.see("/records"))
    assert told(desk.study()) == by_prompt(shop, tmp_path / "prompt")


def told(text: str) -> dict[str, object]:
    """What a study file says, without its title, which is the folder's name."""
    raw = tomllib.loads(text)
    del raw["study"]["title"]
    return raw


def by_prompt(shop: Shop, folder: Path) -> dict[str, object]:
    """The study that `begin --from` lays out, its open lines filled in by hand."""
    from test_shops import fill_in

    begin_from_files(folder, shop.files)
    fill_in(folder / "study.toml", dict(shop.answers))
    return told((folder / "study.toml").read_text("utf-8"))


LINES = [
    "Serial,Hours,Status,Cause,Last reading",
    *(f"A{i},{500 + i},failed,valve,2025-06-01" for i in range(14)),
    *(f"B{i},{700 + i},in service,,2025-11-30" for i in range(20)),
    "C1,812,bust,,2025-03-01",
    "C2,640,gone west,,2025-04-01",
]


def test_what_an_answer_would_do_is_told_before_and_is_so_after(desk: Served) -> None:
    """The question asked both ways: what the button says, and what the audited records hold."""
    desk.drop({"club.csv": "\n".join(LINES).encode()})
    says = {h["key"]: b for h, b in asks(desk)}
    assert list(says) == ["bust", "gone west"]
    assert "failures 14 → 15" in says["bust"]["failed"]
    assert "failures stay 14; 1 row running on, up to 812 h" in says["bust"]["running"]
    assert "failures stay 14; 1 row removed, up to 640 h" in says["gone west"]["removed"]
    click(desk, "bust", "failed")
    assert "failures 15 → 16" in {h["key"]: b for h, b in asks(desk)}["gone west"]["failed"]
    click(desk, "gone west", "removed")
    now = desk.app.place.reader.stand()
    assert now.audit is not None
    assert sum(x.ending == "failed" for x in now.audit.used) == 15
    assert asks(desk) == []
    assert "Nothing is open" in desk.see("/records")
    assert tomllib.loads(desk.study())["records"][0]["endings"] == {
        "bust": "failed", "gone west": "removed",
    }  # fmt: skip
    assert desk.act("/undo").tone == "done"
    assert [h["key"] for h, _ in asks(desk)] == ["gone west"]


def test_an_answer_that_was_not_offered_is_refused(desk: Served) -> None:
    desk.drop({"club.csv": "\n".join(LINES).encode()})
    before = desk.study()
    for table, key, value in (("endings", "bust", "fine"), ("endings", "sold", "removed"),
                              ("study", "seed", "1"), ("endings", "bust", "")):  # fmt: skip
        reply = desk.act("/records/answer", number="1", table=table, key=key, value=value)
        assert reply.tone == "wrong"
    assert desk.study() == before


def test_a_file_added_later_is_guessed_too_and_no_line_of_the_study_changes(desk: Served) -> None:
    desk.drop({"club.csv": "\n".join(LINES).encode()})
    before = desk.study()
    later = "Werk-Nr.;Betriebsstunden;Verbleib;Datum\nW1;12,5;kaputt;01.02.2025\n"
    later += "W2;900,5;verkauft;03.02.2025\n"
    assert desk.drop({"verein.csv": later.encode()}).tone == "done"
    assert desk.study().startswith(before)
    added = tomllib.loads(desk.study())["records"][1]
    assert added["columns"]["exit_hours"] == "Betriebsstunden"
    assert added["endings"] == {"verkauft": "removed"}
    assert [h["key"] for h, _ in asks(desk)] == ["bust", "gone west", "kaputt"]
    click(desk, "kaputt", "failed")
    assert tomllib.loads(desk.study())["records"][1]["endings"]["kaputt"] == "failed"
    assert desk.act("/records/remove", number="2").tone == "done"
    assert tomllib.loads(desk.study()) == tomllib.loads(before)


def test_a_file_without_records_is_not_left_behind(desk: Served) -> None:
    prices = b"Part,Price\nPiston,120\nGasket,80\n"
    reply = desk.drop({"prices.csv": prices})
    assert reply.tone == "wrong"
    assert "No column names engines" in reply.said
    assert list(desk.folder.iterdir()) == []
    desk.drop({"club.csv": "\n".join(LINES).encode()})
    (desk.folder / "prices.csv").write_bytes(prices)  # somebody else's: it stays
    assert desk.drop({"prices.csv": prices}).tone == "wrong"
    assert (desk.folder / "prices.csv").exists()


def test_a_broken_study_file_takes_no_files(desk: Served) -> None:
    (desk.folder / "study.toml").write_text("[study\n")
    assert desk.drop({"club.csv": "\n".join(LINES).encode()}).tone == "wrong"
    assert desk.study() == "[study\n"
    assert not (desk.folder / "club.csv").exists()


def test_keeping_all_guesses_of_a_sheet_is_one_act_and_changes_no_value(desk: Served) -> None:
    desk.drop({"club.csv": "\n".join(LINES).replace("failed", "verkauft").encode()})
    before = tomllib.loads(desk.study())
    mine = desk.study().partition("[[records]]")[2].partition("# Every other")[0].split("\n")
    n = sum(" # likely: " in x or " # sure: " in x for x in mine if not x.startswith("#"))
    assert n >= 3
    assert f"keep all {n} guesses" in plain(desk.see("/records"))
    assert desk.act("/records/keep", number="1").tone == "done"
    assert "Every guess of this sheet was looked at and kept" in desk.see("/records")
    assert tomllib.loads(desk.study()) == before
    assert desk.act("/undo").tone == "done"
    assert f"keep all {n} guesses" in plain(desk.see("/records"))


WAYS = {
    "a.csv": "Serial,Tach time,Status,Date\nA1,812,running,2025-03-04\nA2,900,failed,2025-05-06\n",
    "b.csv": 'Serial,Hobbs,Status,Date\nB1,812,running,03/04/2025\nB2,"1,200",,05/06/2025\n',
}


def test_numbers_that_two_lists_give_to_failures_are_asked_and_answered_as_at_the_prompt(
    desk: Served,
) -> None:
    head = "Serial no,Hours,Status,Cause,Last reading"
    desk.drop({
        f"{name}.csv": f"{head}\n2,{hours},failed,crankshaft,2025-05-01\n"
        f"{name},90,running,,2025-05-01\n".encode()
        for name, hours in (("north", 710), ("south", 712))
    }, day="")  # fmt: skip
    with pytest.raises(SettingError, match=r"merge\.returns"):
        read_study(desk.folder)
    assert [h["key"] for h, _ in asks(desk)] == ["returns"]
    click(desk, "returns", "false")
    assert asks(desk) == []
    study = read_study(desk.folder)
    assert study.settings.merge.returns is False
    assert sum(r.ending == "failed" for r in read_records(study).rows) == 2


def test_ways_of_writing_the_clock_and_the_day_are_asked_by_choice(desk: Served) -> None:
    desk.drop({n: t.encode() for n, t in WAYS.items()}, day="")
    assert "needs a correction" not in desk.see("/records")  # it is asked, not complained of
    open_now = {h["key"]: b for h, b in asks(desk)}
    assert open_now.keys() == {"decimal", "date_order", "tach", "ending-missing"}
    assert open_now["date_order"]["day-first"] == "the day 03/04/2025 is 2025-04-03"
    click(desk, "decimal", ".")
    click(desk, "date_order", "month-first")
    click(desk, "ending-missing", "accept")
    held = next(h for h, _ in asks(desk) if h["key"] == "tach")
    wrong = desk.act("/records/answer", held, factor="0.9", low="1.0", high="1.1")
    assert wrong.tone == "wrong"
    right = desk.act("/records/answer", held, factor="0.95", low="0.9", high="1")
    assert right.tone == "done", right.said
    assert asks(desk) == []
    now = desk.app.place.reader.stand()
    assert now.audit is not None
    assert now.audit.ok
    raw = tomllib.loads(desk.study())
    assert raw["hours"]["factors"] == {"tach": {"factor": 0.95, "low": 0.9, "high": 1}}
    assert raw["records"][1]["decimal"] == "."


def test_records_without_a_day_ask_for_it(desk: Served) -> None:
    desk.drop({"x.csv": b"engine,exit_hours,ending\nE-1,100,running\nE-2,90,running\n"}, day="")
    ((held, buttons), other) = asks(desk)
    assert held["key"] == other[0]["key"] == "analysis_date"
    assert next(iter(buttons.values())).endswith("today")
    assert desk.act("/records/answer", held, value="soon").tone == "wrong"
    assert desk.act("/records/answer", held, value="2025-12-31").tone == "done"
    assert str(tomllib.loads(desk.study())["study"]["analysis_date"]) == "2025-12-31"
    assert asks(desk) == []


def test_what_a_repair_renewed_is_asked_of_a_history(desk: Served) -> None:
    rows = (
        "Engine,Hours now,Failed at,Cause,Back in service at,Last reading\n"
        "A1,900,300,valve,300,2025-05-01\nA2,800,,,,2025-05-01\n"
    )
    desk.drop({"h.csv": rows.encode()})
    assert desk.act("/records/shape", number="1", shape="histories").tone == "done"
    assert [h["table"] for h, _ in asks(desk)] == ["renews"]
    click(desk, "back in service", "nothing")
    now = desk.app.place.reader.stand()
    assert now.audit is not None
    assert now.audit.ok
    assert asks(desk) == []


def test_a_sheet_that_tells_of_a_failure_and_is_no_table_stops_until_it_is_looked_at(
    desk: Served,
) -> None:
    notes = b"Minutes of the meeting\n3 March: engine failed at 400 h\nnext: 5 May\n"
    desk.drop({"club.csv": "\n".join(LINES).encode(), "minutes.csv": notes})
    assert "no-records" in {v for h, b in asks(desk) if h["key"] == "shape" for v in b}
    click(desk, "shape", "no-records")
    assert [f["file"] for f in tomllib.loads(desk.study())["records"]] == ["club.csv"]
    assert (desk.folder / "minutes.csv").exists()


def test_rows_are_marked_in_the_sheet_by_what_was_found(desk: Served) -> None:
    lines = ["Our club's engines,,,,", *LINES, "C2,640,gone west,,2025-04-01"]
    desk.drop({"club.csv": "\n".join(lines).encode()})
    page = desk.see("/records")
    marked = re.findall(r'<tr class="line-row line-error"><th scope="row">(\d+)</th>', page)
    assert marked == ["37", "38", "39"]
    assert '<td class="odd-cell">bust</td>' in page
    assert '<tr class="line-names"><th scope="row">2</th>' in page


def measured(desk: Served, tmp_path: Path, n: int) -> float:
    """Processor seconds from a dropped workbook of n engines to the page that shows it matched."""
    said = {"running": "in service", "failed": "kaputt", "removed": "sold"}
    lives = draw("measured", n, [("failed", "valve")] * (n // 50), serial="K-{:06d}")
    head = ["Serial No.", "Build std", "Total time [h]", "Current status", "Cause", "Last reading"]
    rows = [[x.engine, x.build, x.exit_h, said[x.ending], x.cause, x.last] for x in lives]
    path = write_sheets(tmp_path / "r.xlsx", {"E": [["Register"], [], head, *rows]})
    data, at = path.read_bytes(), time.process_time()
    assert desk.drop({"r.xlsx": data}).tone == "done"
    page = desk.see("/records")
    took = time.process_time() - at
    assert f"{n:,} rows read" in page
    print(f"{n} engines matched in {took:.2f} s of processor time")
    return took


def test_a_dropped_sheet_of_260_engines_is_matched_in_a_second(
    desk: Served, tmp_path: Path
) -> None:
    assert measured(desk, tmp_path, 260) <= 1.0


@pytest.mark.slow
def test_twenty_thousand_rows_are_matched_in_five_seconds(desk: Served, tmp_path: Path) -> None:
    assert measured(desk, tmp_path, 20_000) <= 5.0
