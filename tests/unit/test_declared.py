"""What is declared before the records are drawn: a chain of versions, and what the report says.

That each entry of a log holds the SHA-256 of the one before is common practice; no source beyond
that. Lives are invented.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fleetstats.chapters.declared import late_line
from fleetstats.chapters.declared.compute import find_declared
from fleetstats.chapters.declared.values import DeclaredQuestion
from fleetstats.cli import main
from fleetstats.core.errors import SettingError
from fleetstats.core.provenance import digest_file
from fleetstats.study import declared as room
from fleetstats.study.carry import begin_from
from fleetstats.study.declared import DECLARED_FILE, declare_study, declared_in, read_declared
from fleetstats.study.declared.chain import digest_of, text_of
from fleetstats.study.declared.content import can_turn
from fleetstats.study.history import HISTORY_FILE, LedgerLook, append_look, read_history
from fleetstats.study.study import read_study

STUDY = """\
[study]
title = "Club"
analysis_date = 2026-12-31
claimed_interval_h = 1200
[fleet]
serials_file = "serials.csv"
[looks]
planned = 4
[[records]]
file = "lives.csv"
"""
LIVES = "engine,exit_hours,ending\nE-1,400,failed\nE-2,500,running\n"
DAY = dt.date(2026, 1, 5)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "club"
    place.mkdir()
    (place / "study.toml").write_text(STUDY, encoding="utf-8")
    (place / "serials.csv").write_text("engine\nE-1\nE-2\nE-3\n", encoding="utf-8")
    return place


def declare(folder: Path, day: dt.date = DAY, n: int = 3) -> room.Declared:
    return declare_study(read_study(folder, drawn=False), day, n_serials=n)


def look(folder: Path, date: str, n: int = 1) -> None:
    for k in range(n):
        told = LedgerLook(verb="study", date=date, data=f"{date}{k}")
        assert append_look(folder, told, today=DAY).state == "written"


def swap(folder: Path, old: str, new: str, file: str = "study.toml") -> None:
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8")


def told(folder: Path, n: int = 3) -> DeclaredQuestion:
    study = read_study(folder, drawn=False)
    files = {f.file: digest_file(f.path) for f in study.files if f.path.is_file()}
    return find_declared(read_declared(folder), study, read_history(folder), files, n)


def test_declared_before_the_records_are_there(folder: Path) -> None:
    with pytest.raises(SettingError, match="is not there"):
        read_study(folder)
    run = CliRunner().invoke(main, ["declare", str(folder), "--on", "2026-01-05"])
    assert run.exit_code == 0
    assert run.output.startswith("Version 1 declared on 2026-01-05, before any record.")
    (one,) = read_declared(folder)
    assert one.digest in run.output
    assert (one.looks, one.records, one.before) == (0, {}, "")
    assert one.serials["count"] == 3
    assert one.settings["study.claimed_interval_h"] == 1200.0
    assert one.settings["looks.planned"] == 4
    assert one.settings["decision.review_months"] == 12
    assert {"question.level", "targets.reliability", "question.causes"} <= set(one.settings)
    assert not {"study.title", "looks.made", "study.seed"} & set(one.settings)


def test_again_adds_nothing_and_a_change_adds_a_version(folder: Path) -> None:
    declare(folder)
    before = (folder / DECLARED_FILE).read_bytes()
    swap(folder, 'title = "Club"', 'title = "The club"')
    assert declare(folder, dt.date(2026, 2, 1)).state == "again"
    assert (folder / DECLARED_FILE).read_bytes() == before
    swap(folder, "planned = 4", "planned = 5")
    assert declare(folder, dt.date(2026, 2, 1)).state == "written"
    first, second = read_declared(folder)
    assert first == declared_in(before)[0]
    assert (second.before, second.number) == (first.digest, 2)
    swap(folder, "planned = 5", "planned = 6")
    with pytest.raises(SettingError, match="declared on 2026-02-01, after 2026-01-31"):
        declare(folder, dt.date(2026, 1, 31))
    assert len(read_declared(folder)) == 2


def _version(k: int, change: Callable[[dict[str, Any]], object]) -> Callable[[Any], None]:
    def do(content: Any) -> None:
        change(content["versions"][k])

    return do


TAMPERED: dict[str, tuple[Callable[[Any], object], str]] = {
    "setting": (_version(0, lambda v: v["settings"].update({"targets.reliability": 0.5})),
                "version 1: it was changed"),
    "day": (_version(1, lambda v: v.update(declared="2025-01-01")), "version 2: it was changed"),
    "looks": (_version(2, lambda v: v.update(looks_at_these=1)), "version 3: it was changed"),
    "first out": (lambda c: c["versions"].pop(0), "version 1: the version before it"),
    "middle out": (lambda c: c["versions"].pop(1), "version 2: the version before it"),
    "last out": (lambda c: c["versions"].pop(), "one is gone"),
    "all out": (lambda c: c["versions"].clear(), "holds no version"),
    "two swapped": (lambda c: c["versions"].insert(0, c["versions"].pop(1)),
                    "version 1: the version before it"),
    "twice": (lambda c: c["versions"].insert(1, c["versions"][0]),
              "version 2: the version before it"),
    "more in it": (_version(1, lambda v: v.update(note="x")), "version 2: it does not hold"),
    "another kind": (_version(1, lambda v: v.update(looks="0")), "version 2: its 'looks' is none"),
    "beside it": (lambda c: c.update(note="x"), "holds more than was written"),
    "schema": (lambda c: c.update(schema="x"), "its schema is not"),
}  # fmt: skip


def three(folder: Path) -> None:
    for k in (5, 6, 7):
        declare(folder, dt.date(2026, 1, k))
        swap(folder, f"planned = {k - 1}", f"planned = {k}")


@pytest.mark.parametrize("case", TAMPERED)
def test_a_tampered_chain_is_an_error_with_its_place(folder: Path, case: str) -> None:
    three(folder)
    content = json.loads((folder / DECLARED_FILE).read_bytes())
    change, place = TAMPERED[case]
    change(content)
    data = (json.dumps(content, indent=1, ensure_ascii=False) + "\n").encode()
    (folder / DECLARED_FILE).write_bytes(data)
    with pytest.raises(SettingError) as found:
        read_declared(folder)
    assert place in str(found.value)
    with pytest.raises(SettingError):
        declare(folder, dt.date(2026, 3, 1))
    assert (folder / DECLARED_FILE).read_bytes() == data


@pytest.mark.parametrize(
    ("data", "place"),
    [
        (b"", "no JSON"), (b"\xff", "no JSON"), (b"[" * 100_000, "no JSON"), (b"[]", "schema"),
        (b'{"schema": "x", "schema": "fleetstats/declared/1"}', "stands twice"),
        (b'{"schema": "fleetstats/declared/1", "versions": [NaN]}', "NaN"),
        (b'{"schema": "fleetstats/declared/1", "versions": [1]}', "version 1"),
        (b" " * (2**22 + 1), "bytes"),
    ],
)  # fmt: skip
def test_what_is_no_chain_is_told_and_harms_nothing(data: bytes, place: str) -> None:
    with pytest.raises(SettingError, match=place):
        declared_in(data)


@pytest.mark.parametrize(
    ("name", "held"),
    [
        ("serials", {"count": "3"}), ("serials", {"file": "f", "sha256": "s", "count": 10**400}),
        ("records", {"lives.csv": 1}), ("looks", -1), ("looks_at_these", 10**400),
    ],
)  # fmt: skip
def test_a_chain_forged_whole_still_holds_only_what_a_chain_can(
    folder: Path, name: str, held: object
) -> None:
    """The forger writes right digests; what no version can hold is refused, not run into."""
    declare(folder)
    (one,) = read_declared(folder)
    forged = replace(one, **{name: held})
    forged = replace(forged, digest=digest_of(forged))
    with pytest.raises(SettingError, match=f"version 1: its '{name}' is none"):
        declared_in(text_of([forged]))


def test_strange_settings_of_a_forged_chain_are_told_as_text(folder: Path) -> None:
    declare(folder)
    (one,) = read_declared(folder)
    strange = {"study.analysis_date": {"x": [1, None]}, "study.claimed_interval_h": "\x1b[2J",
               "question.causes": 7, "no\x1b.such": [[{}]]}  # fmt: skip
    forged = replace(one, settings=one.settings | strange)
    forged = replace(forged, digest=digest_of(forged))
    (folder / DECLARED_FILE).write_bytes(text_of([forged]))
    found = told(folder)
    assert len(found.changes) == len(strange)
    assert all(x.isprintable() for c in found.changes for x in (c.was, c.now, c.key))


def test_ends_of_lines_of_another_system_do_no_harm(folder: Path) -> None:
    three(folder)
    data = (folder / DECLARED_FILE).read_bytes()
    assert declared_in(data.replace(b"\n", b"\r\n")) == declared_in(data)
    assert text_of(list(declared_in(data))) == data
    assert all(digest_of(v) == v.digest for v in declared_in(data))


def test_nothing_changed_is_said_and_calls_for_no_caution(folder: Path) -> None:
    declare(folder)
    (folder / "lives.csv").write_text(LIVES, encoding="utf-8")
    look(folder, "2026-12-31")
    found = told(folder)
    assert (found.before, found.changes, found.cautions) == (True, (), ())
    assert "2026-01-05, before any look" in found.prompt_lines[0]
    assert "nothing of it was changed since" in found.prompt_lines[0]
    assert late_line(found) == ""


def test_a_change_after_declaring_is_told_with_both_values(folder: Path) -> None:
    """Held against what was declared before the first look, whatever is declared after it."""
    declare(folder)
    swap(folder, "1200", "1100")
    declare(folder, dt.date(2026, 2, 1))
    look(folder, "2026-12-31", 2)
    swap(folder, "1100", "900")
    swap(folder, "planned = 4", "planned = 4\nrule = 'any-number'\n[decision]\nreview_months = 6")
    found = told(folder)
    assert [(c.key, c.was, c.now, c.turns) for c in found.changes] == [
        ("looks.rule", "spending", "any-number", True),
        ("study.claimed_interval_h", "1100", "900", True),
        ("decision.review_months", "12", "6", False),
    ]
    assert {c.since for c in found.changes} == {"not declared anew"}
    declare(folder, dt.date(2027, 1, 8))
    found = told(folder)
    assert (found.held, found.on, len(found.changes)) == (2, "2026-02-01", 3)
    assert {c.since for c in found.changes} == {"declared anew on 2027-01-08, after 2 looks"}
    (one,) = found.cautions
    assert one.code == "declared-changed"
    assert "2 settings that can turn the verdict are not as declared on 2026-02-01" in one.text
    assert "study.claimed_interval_h (declared 1100, now 900)" in one.text


def test_what_turns_no_verdict_calls_for_no_caution(folder: Path) -> None:
    declare(folder)
    swap(folder, "[looks]", "[decision]\nreview_months = 6\n[looks]")
    assert (len(told(folder).changes), told(folder).cautions) == (1, ())
    assert "none that can turn the verdict" in told(folder).prompt_lines[0]


def test_only_an_earlier_date_of_the_records_can_turn_a_verdict() -> None:
    assert can_turn("study.analysis_date", "2026-12-31", "2026-11-30")
    assert not can_turn("study.analysis_date", "2026-12-31", "2027-12-31")


def test_another_list_of_serials_is_a_change(folder: Path) -> None:
    declare(folder)
    swap(folder, "E-3\n", "", file="serials.csv")
    (one,) = told(folder, n=2).changes
    assert (one.key, one.turns) == ("fleet.serials_file", True)
    assert one.was.startswith("3 serials (")
    assert one.now.startswith("2 serials (")


def test_after_a_look_or_beside_the_records_it_was_not_declared_before(folder: Path) -> None:
    look(folder, "2026-12-31")
    declare(folder)
    assert (told(folder).before, told(folder).late) == (False, 1)
    assert late_line(told(folder)).endswith("2026-01-05, after 1 look at these records.")
    (folder / DECLARED_FILE).unlink()
    (folder / HISTORY_FILE).unlink()
    (folder / "lives.csv").write_text(LIVES, encoding="utf-8")
    declare(folder)
    assert (told(folder).before, told(folder).lay_there) == (False, ("lives.csv",))
    assert "1 record file lay there as now" in late_line(told(folder))
    assert late_line(None) == "The question was not declared before the records were seen."


def test_looks_at_earlier_records_do_not_make_it_late(folder: Path) -> None:
    """A ledger carried from last year tells of looks at last year's records."""
    look(folder, "2025-12-31", 3)
    declare(folder)
    found = told(folder)
    assert (found.before, found.versions[0].looks) == (True, 3)
    # but a date moved past a look already made does not make a later version an early one
    look(folder, "2026-12-31")
    swap(folder, "2026-12-31", "2027-06-30")
    declare(folder, dt.date(2027, 1, 9))
    assert (told(folder).held, told(folder).versions[1].looks_at_these) == (1, 1)


def test_looks_that_are_gone_since_declaring_are_missed(folder: Path) -> None:
    look(folder, "2025-12-31", 3)
    declare(folder)
    look(folder, "2026-12-31")
    assert not told(folder).ledger_lost
    (folder / HISTORY_FILE).unlink()
    look(folder, "2026-12-31", 3)  # as many looks, but others
    assert [c.code for c in told(folder).cautions] == ["declared-looks-lost"]


def test_next_years_study_takes_the_question_and_not_the_declaration(
    folder: Path, tmp_path: Path
) -> None:
    (folder / "lives.csv").write_text(LIVES, encoding="utf-8")
    assert not any("declare" in x for x in begin_from(tmp_path / "a", folder).lines)
    declare(folder)
    lines = begin_from(tmp_path / "b", folder).lines
    assert any("declared.json is not carried (the earlier study's: declared on 2026-01-05)" in x
               for x in lines)  # fmt: skip
    assert not (tmp_path / "b" / DECLARED_FILE).exists()
    (folder / DECLARED_FILE).write_bytes(b"{}")
    assert any("not as it was written" in x for x in begin_from(tmp_path / "c", folder).lines)
    (tmp_path / "d").mkdir()
    (tmp_path / "d" / DECLARED_FILE).write_bytes(b"{}")
    with pytest.raises(SettingError, match="is there already"):
        begin_from(tmp_path / "d", folder)


def test_a_new_setting_of_a_later_version_at_its_default_is_no_change(folder: Path) -> None:
    declare(folder)
    (one,) = read_declared(folder)
    fewer = {k: x for k, x in one.settings.items() if k != "evidence.method"}
    older = replace(one, settings=fewer)
    older = replace(older, digest=digest_of(older))
    (folder / DECLARED_FILE).write_bytes(text_of([older]))
    assert told(folder).changes == ()
    swap(folder, "[looks]", "[evidence]\nmethod = 'profile'\n[looks]")
    assert [c.key for c in told(folder).changes] == ["evidence.method"]
