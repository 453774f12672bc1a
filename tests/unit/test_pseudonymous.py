"""Pseudonymous bundles neither leak nor launder: on an invented fleet told by four sources.

What must be so is the user's own wish; the fleet is `messy_fleet`, the law of `rising` is worked
out by hand. No outside source.
"""

from __future__ import annotations

import base64
import contextlib
import csv
import io
import json
import re
import shutil
import subprocess
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from messy_fleet import NAMES, SERIALS, make_messy

from fleetstats.advice.results import Results
from fleetstats.cli import main
from fleetstats.core.errors import ReportError, SettingError
from fleetstats.records.mending.take import SET_ASIDE, Decision, take_mends
from fleetstats.report.bundle import pack
from fleetstats.report.bundle.hiding.names import pseudonym
from fleetstats.report.bundle.hiding.steps import Steps, nearest, read_steps, rising
from fleetstats.report.bundle.hiding.unique import count_unique
from fleetstats.report.bundle.hiding.words import hint_words, plain_note
from fleetstats.report.bundle.pack import pack_bundle
from fleetstats.report.bundle.pseudonyms import MadeStudy, pseudonymous_study
from fleetstats.studies.analyse import analyse, read_lives_of
from fleetstats.study.history import LedgerLook, append_look
from fleetstats.study.origin import ORIGIN_FILE, read_origin
from fleetstats.study.study import read_study
from fleetstats.vocabulary.trouble import hint_of

KEY = bytes(range(32))
OWN = {"names-replaced"}
"""Cautions that a pseudonymous report has and its original has not."""
FILES = ("log of", "zimmerhof.csv", "brackwater.csv", "book of", "serials of")
DEMOS = ("quiet-fleet", "tow-clubs", "workshop", "new-mode", "on-condition")


@dataclass(frozen=True)
class Sent:
    """The messy fleet at home, and what was sent of it."""

    home: Path
    made: MadeStudy
    at_home: Results
    told: dict
    members: dict[str, bytes]


@pytest.fixture(scope="module")
def sent(tmp_path_factory: pytest.TempPathFactory) -> Sent:
    place = tmp_path_factory.mktemp("pseudonymous")
    home = make_messy(place / "messy")
    made = pseudonymous_study(read_study(home), place / "study")
    pack_bundle(made.study, place / "study.zip", name="study")
    with zipfile.ZipFile(place / "study.zip") as z:
        members = {n: z.read(n) for n in z.namelist()}
    told = json.loads(members["report/results.json"])
    return Sent(home, made, analyse(read_study(home)), told, members)


PRINTED = re.compile(rb"[\x20-\x7e]{12,}")
SHORT = 5
"""Letters below which a name is found in packed bytes by chance: one of three in a megabyte."""


def texts_in(name: str, data: bytes) -> Iterator[bytes]:
    """Yield every text that a member holds, in whichever packing."""
    yield name.encode()
    yield data
    if data[:4] == b"PK\x03\x04":
        with zipfile.ZipFile(io.BytesIO(data)) as z:
            for inner in z.namelist():
                yield from texts_in(inner, z.read(inner))
    elif data[:4] == b"%PDF":
        run = subprocess.run(["pdftotext", "-", "-"], input=data, capture_output=True, check=True)
        yield run.stdout
    if name.endswith(".html"):
        for part in re.findall(rb"[A-Za-z0-9+/]{64,}={0,2}", data):
            yield from texts_in("", base64.b64decode(part[: len(part) // 4 * 4]))
    elif not _plain(data):
        yield data.replace(b"\0", b"")  # two bytes to a letter
        for part in re.finditer(rb"\x78[\x01\x5e\x9c\xda]", data):
            with contextlib.suppress(zlib.error):
                yield zlib.decompressobj().decompress(data[part.start() :], 2**22)


def _plain(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def found_in(members: dict[str, bytes], tokens: tuple[str, ...]) -> set[tuple[str, str]]:
    out = set()
    for name, data in members.items():
        for text in texts_in(name, data):
            low = text.lower()
            # three letters stand in packed bytes by chance: there they count within printed runs
            runs = low if _plain(text) else b"\n".join(PRINTED.findall(low))
            out |= {
                (name, t) for t in tokens
                if t.lower().encode() in (runs if len(t) < SHORT else low)
            }  # fmt: skip
    return out


pdf = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="pdftotext reads the words on the pages"
)


@pdf
def test_no_name_is_in_any_byte_of_any_member(sent: Sent) -> None:
    """Engines' ids, sources, files, people: also packed in workbooks, pages and pictures."""
    tokens = (*NAMES, SERIALS, *FILES)
    at_home = {p.name: p.read_bytes() for p in sent.home.iterdir()}
    assert {t for _, t in found_in(at_home, tokens)} == set(
        tokens
    )  # the search finds what is there
    packed = {n for n, t in found_in(at_home, NAMES) if n.endswith(".xlsx") and t == "Dunmorrow"}
    assert packed, "the search looks into workbooks"
    assert any(n.endswith(".pdf") for n in sent.members)
    same_everywhere = ("report/check/check.", "report/selftest.csv")
    own = {n: b for n, b in sent.members.items() if not n.startswith(same_everywhere)}
    assert len(own) == len(sent.members) - 3
    assert found_in(own, tokens) == set()


def test_the_account_is_that_of_the_original(sent: Sent) -> None:
    home, here = sent.at_home.audit, sent.told["audit"]
    assert home.n_set_aside > 5  # errors, a total, a doubled row
    for name in ("n_read", "n_used", "n_set_aside", "reasons"):
        assert here[name] == getattr(home, name)
    assert here["counts"] == home.counts()
    assert sent.made.origin.unlike == ()
    origin = sent.told["chapters"]["origin"]
    assert origin["same_account"] is True
    assert origin["origin"]["account"] == {
        "read": home.n_read,
        "used": home.n_used,
        "set_aside": home.n_set_aside,
        "errors": home.counts()["error"],
    }


def test_cautions_verdict_fates_clocks_and_trouble_stay(sent: Sent) -> None:
    home, here = sent.at_home, sent.told
    codes = {c["code"] for c in here["advice"]["cautions"]}
    # the ledger of looks stays at home; how many it holds is told
    assert codes - OWN == {c.code for c in home.advice.cautions}
    assert home.advice.verdict is not None
    assert here["advice"]["verdict"]["word"] == home.advice.verdict.word
    assert here["built"]["n_fate_unknown"] == home.built.n_fate_unknown == 3
    assert "clock-range" in here["chapters"]
    assert set(here["chapters"]) - {"origin"} == set(home.chapters) - {"looks-made"}
    assert len(read_lives_of(sent.made.study)[0].trouble) == len(home.records.trouble)
    assert sent.made.origin.looks == {"made": 1, "as_written": True}


@pdf
def test_the_first_page_says_that_names_were_replaced(sent: Sent) -> None:
    page = subprocess.run(
        ["pdftotext", "-l", "1", "-", "-"], input=sent.members["report/report.pdf"],
        capture_output=True, check=True,
    ).stdout.decode()  # fmt: skip
    said = " ".join(page.split())
    assert "Names of engines, sources and files were replaced" in said
    assert "hours to 1 h, dates to the month" in said


def test_the_list_tells_what_coarsening_did_to_each_answer(sent: Sent) -> None:
    listed = json.loads(sent.members["bundle.json"])["origin"]
    assert listed == json.loads(sent.members[f"study/{ORIGIN_FILE}"])
    told = {x["name"]: (x["at_home"], x["here"]) for x in listed["answers"]}
    assert {"failure_high", "plan_from_h", "supported_h", "oldest_h"} <= set(told)
    oldest = sent.at_home.advice.horizon.oldest_h
    assert told["oldest_h"][0] == nearest(oldest, 1)
    assert told["failure_high"][0] == pytest.approx(told["failure_high"][1], abs=0.01)
    page = sent.members["report/report.html"].decode()
    assert "What coarsening did to each answer" in page
    assert "Engines that can be told apart" in page
    for x in sent.made.origin.unique:
        assert sum(x.before) == sum(x.after) == 101  # engines in use


def test_digits_do_not_tell_converted_hours(sent: Sent) -> None:
    """Every hour that leaves is a whole step, whichever clock it was read from.

    At home more than one decimal gives a converted hour away; here a rule that looks at digits
    alone sees one kind only.
    """
    tach = [r for r in sent.at_home.audit.used if r.meter == "tach"]
    assert sum(round(r.exit_h, 1) != r.exit_h for r in tach) > len(tach) / 2
    seen = set()
    for name, data in sent.members.items():
        if not re.fullmatch(r"study/file-\d\.csv", name):
            continue
        text = data.decode()
        mark = ";" if ";" in text.splitlines()[0] else ","
        for row in csv.DictReader(io.StringIO(text), delimiter=mark):
            for head in ("hours", "Stunden", "exit_hours", "entry_hours", "last_good_hours"):
                if row.get(head) and row[head] != "unreadable":
                    seen.add(bool(re.fullmatch(r"\d+", row[head])))
    assert seen == {True}


def test_failures_at_checks_stay_within_their_interval(sent: Sent) -> None:
    rows = read_lives_of(sent.made.study)[1].used
    found = [r for r in rows if r.last_good_h is not None]
    assert len(found) == 3
    assert all(r.entry_h <= r.last_good_h < r.exit_h for r in found)
    assert all(r.entry_h < r.exit_h for r in rows)


def small(folder: Path, order: int = 1) -> Path:
    folder.mkdir()
    rows = [f"K7-{i},{100.0 + 3.37 * i:.2f},{'failed' if i % 5 == 0 else 'running'},B{i % 2}"
            for i in range(40)]  # fmt: skip
    text = "\n".join(["engine,exit_hours,ending,build", *rows[::order]])
    (folder / "lives.csv").write_text(text + "\n", encoding="utf-8")
    (folder / "study.toml").write_text(
        '[study]\ntitle = "t"\nanalysis_date = 2026-01-01\n[[records]]\nfile = "lives.csv"\n'
    )
    return folder


def test_the_order_of_rows_tells_nothing_of_the_order_at_home(tmp_path: Path) -> None:
    made = [
        pseudonymous_study(
            read_study(small(tmp_path / f"h{i}", order)), tmp_path / f"s{i}", key=KEY
        )
        for i, order in enumerate((1, -1))
    ]
    one, two = ((m.study.folder / "file-1.csv").read_text() for m in made)
    assert one == two
    hours = [float(line.split(",")[1]) for line in one.splitlines()[1:]]
    assert hours != sorted(hours)
    names = [line.split(",")[0] for line in one.splitlines()[1:]]
    assert names != sorted(names)


def test_pseudonyms_come_from_a_secret_that_is_not_kept(tmp_path: Path) -> None:
    home = read_study(small(tmp_path / "home"))
    ids = [
        {r.engine for r in read_lives_of(pseudonymous_study(home, tmp_path / n).study)[1].used}
        for n in "ab"
    ]
    assert ids[0].isdisjoint(ids[1])
    assert len(ids[0]) == 40
    assert pseudonymous_study(home, tmp_path / "c").origin.keyed_hashes is None
    with_key = pseudonymous_study(home, tmp_path / "d", key=KEY)
    assert set(with_key.origin.keyed_hashes or {}) == {"file 1", "file 2"}
    assert pseudonym("K7-1", KEY, "engine") != pseudonym("K7-1", bytes(32), "engine")


def test_looks_at_home_are_counted_where_their_ledger_does_not_go(tmp_path: Path) -> None:
    """A plan of four looks, two made: the bundle's is the third, not a first one."""
    home = small(tmp_path / "home")
    toml = home / "study.toml"
    text = toml.read_text().replace("[[records]]", "[looks]\nplanned = 4\n[[records]]")
    toml.write_text(text.replace("[looks]", "claimed_interval_h = 150\n[looks]", 1))
    for year, known in ((2024, 0.41234), (2025, 0.8)):
        look = LedgerLook(verb="study", date=f"{year}-01-01", data=str(year), verdict="supported",
                          answers={"information": known})  # fmt: skip
        append_look(home, look)
    made = pseudonymous_study(read_study(home), tmp_path / "s")
    looks = made.study.settings.looks
    assert (looks.planned, looks.made) == (4, 3)
    assert looks.information[:2] == (0.412, 0.8)
    told = {x.name: x for x in made.origin.answers}
    assert told["failure_high"].here == pytest.approx(told["failure_high"].at_home, abs=0.01)


def test_larger_steps_make_fewer_engines_stand_alone(tmp_path: Path) -> None:
    home = read_study(small(tmp_path / "home"))
    alone = {}
    for text in ("1h,month", "50h,year"):
        made = pseudonymous_study(home, tmp_path / text, coarse=read_steps(text))
        by = {x.by: x for x in made.origin.unique}
        assert by["hours"].before == (40, 0, 0)
        alone[text] = by["hours"].after[0]
        assert made.origin.moved_h <= made.origin.hours_step_h
    assert alone["50h,year"] < 10 < alone["1h,month"]
    assert count_unique((), ())[0].before == (0, 0, 0)


@given(
    st.dictionaries(st.floats(0, 3000).map(lambda x: round(x, 2)), st.booleans(), max_size=40),
    st.sampled_from([1, 5, 10, 50]),
)
@settings(max_examples=150, deadline=None)
def test_coarsened_hours_never_fall_and_ends_stay_apart(hours, step) -> None:
    now = rising(hours, step)
    was = sorted(hours)
    assert all(now[a] <= now[b] for a, b in pairwise(was))
    assert all(x % step == 0 for x in now.values())
    ends = [h for h in was if hours[h]]
    assert all(now[a] < now[b] for a, b in pairwise(ends))
    # no end is moved further than the crowd below it asks for
    assert all(now[h] - h <= step * (1 + sum(e < h for e in ends)) for h in was)


@pytest.mark.parametrize(
    "note",
    [
        "failed at 766.4 h, says Vexley", "no metal found by Vexley", "crack in case, Vexley",
        "low compression no. 3 Vexley", "Vexley has it", "burnt valve", "engine seized", "",
    ],
)  # fmt: skip
def test_a_note_leaves_as_its_word_of_trouble(note: str) -> None:
    said = plain_note(note, lambda h: nearest(h, 1))
    assert "vexley" not in said.casefold()
    was, now = hint_of(note), hint_of(said)
    assert (was is None) == (now is None)
    if was is not None and now is not None:
        assert now.grade == was.grade
        assert (now.hours_h is None) == (was.hours_h is None)
    assert hint_words("fine", nearest) == ""


@pytest.mark.parametrize("text", ["0h", "101h", "1.5h", "week", "10h,20h", "month,year", "", "10"])
def test_steps_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(ReportError, match="names no steps"):
        read_steps(text)
    assert read_steps(" 10 H , Quarter") == Steps(hours_h=10, dates="quarter")


def test_a_text_is_kept_only_where_it_is_named_and_names_nobody(tmp_path: Path) -> None:
    home = make_messy(tmp_path / "messy")
    for keep, why in (("study.seed", "no setting of free text"), ("question.name", "")):
        if why:
            with pytest.raises(ReportError, match=why):
                pseudonymous_study(read_study(home), tmp_path / "x", keep=(keep,))
    toml = home / "study.toml"
    toml.write_text(toml.read_text().replace("Mr Vexley", "QF7-100"), encoding="utf-8")
    text = toml.read_text().replace("a letter from Pumblechook", "as told for QF7-100")
    toml.write_text(text, encoding="utf-8")
    with pytest.raises(ReportError, match="holds the name"):
        pseudonymous_study(read_study(home), tmp_path / "y", keep=("base_rate.source",))


def test_an_origin_that_says_more_is_refused(tmp_path: Path) -> None:
    made = pseudonymous_study(read_study(small(tmp_path / "home")), tmp_path / "s")
    path = made.study.folder / ORIGIN_FILE
    assert read_origin(made.study.folder) == made.origin
    told = json.loads(path.read_text())
    for change in (
        {"more": 1}, {"dates": "day"}, {"moved_h": "x"}, {"reasons": {"Bad Name": 1}},
        {"answers": [{"name": "verdict", "at_home": "<b>", "here": None, "schema": "x"}]},
    ):  # fmt: skip
        path.write_text(json.dumps(told | change))
        with pytest.raises(SettingError, match=r"origin\.json"):
            read_origin(made.study.folder)
    assert read_origin(tmp_path) is None


def test_the_maker_is_told_on_the_screen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(pack, "report_members", lambda *_: (None, {"report.html": b"page"}))
    small(tmp_path / "home of Smith")
    run = CliRunner().invoke(
        main, ["bundle", "home of Smith", "--pseudonymous", "--coarse", "10h,quarter"]
    )
    assert run.exit_code == 0, run.output
    assert "hours to 10 h, dates to the quarter" in run.output
    assert "40 rows read = 40 used + 0 set aside" in run.output
    assert "Engines alone" in run.output
    with zipfile.ZipFile(tmp_path / "study.zip") as z:  # its name tells nothing either
        assert not any("mith" in n for n in z.namelist())
        assert json.loads(z.read("bundle.json"))["origin"]["dates"] == "quarter"
    assert not list(tmp_path.glob("*.key"))


@pytest.mark.parametrize("demo", DEMOS)
def test_demos_keep_their_account_and_verdict(demo: str, tmp_path: Path) -> None:
    home = read_study(Path("datasets") / demo)
    made = pseudonymous_study(home, tmp_path / "s")
    assert made.origin.unlike == ()
    told = {x.name: x for x in made.origin.answers}
    assert told["verdict"].at_home == told["verdict"].here
    assert told["failed"].at_home == told["failed"].here
    assert made.origin.account["read"] == read_lives_of(made.study)[1].n_read


@pytest.mark.slow
@pytest.mark.parametrize("demo", DEMOS)
def test_demos_keep_their_cautions(demo: str, tmp_path: Path) -> None:
    home = read_study(Path("datasets") / demo)
    here = analyse(pseudonymous_study(home, tmp_path / "s").study)
    before = analyse(home)
    assert {c.code for c in here.advice.cautions} - OWN == {c.code for c in before.advice.cautions}
    assert set(here.chapters) - {"origin"} == set(before.chapters)


DOUBTFUL = """\
engine,exit_hours,ending,cause,in_service_date,last_reading_date
A-1,900,running,,May 2013,2025-05-01
A-2,approx 800,running,,2010,2025-05-02
A-3,1200-1300,running,,Q2 2014,2025-05-03
A-4,650,failed,crankshaft,about 2012,2025-05-04
A-5,710,running,,2015-02-03,31.05.25
A-6,820,running,,about May 2016,06/2025
A-7,930,running,,2012/13,2025-05-05
A-8,300,failed,crankshaft,2019-05-01,2025-05-06
A-9,300,failed,crankshaft,2019-05-01,2025-05-06
"""


@pytest.fixture
def doubtful(tmp_path: Path) -> Path:
    home = tmp_path / "home"
    home.mkdir()
    (home / "lives.csv").write_text(DOUBTFUL, encoding="utf-8")
    (home / "study.toml").write_text(
        '[study]\ntitle = "t"\nanalysis_date = 2025-12-31\nclaimed_interval_h = 1000\n'
        '[[records]]\nfile = "lives.csv"\nsource = "club"\n',
        encoding="utf-8",
    )
    return home


def _spans(folder: Path) -> list[str]:
    rows = read_lives_of(read_study(folder))[0].rows
    return sorted(str(r.coarse) for r in rows if r.coarse)


def test_dates_and_hours_in_words_leave_as_words(doubtful: Path, tmp_path: Path) -> None:
    """Spans of months, quarters and years hold no day, so that coarsened they are the same."""
    made = pseudonymous_study(read_study(doubtful), tmp_path / "away", key=KEY)
    data = (tmp_path / "away" / "file-1.csv").read_text("utf-8")
    assert "unreadable" not in data
    assert len(_spans(doubtful)) == 6
    assert _spans(tmp_path / "away") == _spans(doubtful)
    assert [u.code for u in made.origin.unlike] == []
    a, b = (read_lives_of(read_study(p))[1] for p in (doubtful, tmp_path / "away"))
    assert (a.reasons, a.n_read, a.n_used) == (b.reasons, b.n_read, b.n_used)


@pytest.mark.parametrize("dates", ["quarter", "year"])
def test_spans_of_days_are_coarsened_with_the_dates(
    doubtful: Path, tmp_path: Path, dates: str
) -> None:
    pseudonymous_study(read_study(doubtful), tmp_path / "away", coarse=Steps(dates=dates), key=KEY)
    data = (tmp_path / "away" / "file-1.csv").read_text("utf-8")
    assert "2013-05" not in data
    assert "unreadable" not in data
    assert ("Q2 2013" in data) == (dates == "quarter")


def test_rows_set_aside_by_decision_stay_so_and_the_reason_stays_at_home(
    doubtful: Path, tmp_path: Path
) -> None:
    take_mends(read_study(doubtful), [
        Decision(file="lives.csv", row=10, column="", act=SET_ASIDE,
                 why="told by Bert Meyer for A-9", by="Bert Meyer")
    ])  # fmt: skip
    made = pseudonymous_study(read_study(doubtful), tmp_path / "away", key=KEY)
    home, away = (read_lives_of(read_study(p)) for p in (doubtful, tmp_path / "away"))
    assert home[1].reasons == away[1].reasons == {"mended-aside": 1}
    assert (home[1].n_used, home[2].spells.n_failed) == (8, 2)
    assert (away[1].n_used, away[2].spells.n_failed) == (8, 2)
    assert [u.code for u in made.origin.unlike] == []
    mends = (tmp_path / "away" / "mends.csv").read_text("utf-8")
    assert "Meyer" not in mends
    assert "A-9" not in mends
