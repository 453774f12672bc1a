"""The ledger of looks: chained, appended whole, the same look once, and every tampering found.

The chain of digests is common practice for logs (each entry holds the SHA-256 of the one before);
no source beyond that. Tampering is done here as people and programs do it: an editor, a sort, a
copy over another system, a broken disk.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import json
import multiprocessing
from collections.abc import Callable
from pathlib import Path

import pytest

from fleetstats.study.history import (
    HISTORY_FILE,
    LedgerLook,
    append_look,
    chosen_of,
    digest_data,
    read_history,
    rounded,
)
from fleetstats.study.history import append as append_module

DAY = dt.date(2027, 1, 5)


def look(n: int, **more: object) -> LedgerLook:
    told: dict[str, object] = {
        "verb": "study",
        "date": f"20{20 + n}-12-31",
        "data": f"{n:064x}",
        "chosen": {"targets.reliability": 0.9},
        "asked": {"hours": 1200.0, "reliability": 0.9},
        "answers": {"failed": float(n), "failure_high": 0.2},
        "verdict": "not-yet-shown",
        "version": "0.1.0",
    }
    return LedgerLook(**told | more)  # type: ignore[arg-type]


@pytest.fixture
def five(tmp_path: Path) -> Path:
    for n in range(1, 6):
        assert append_look(tmp_path, look(n), today=DAY).state == "written"
    return tmp_path


def lines(folder: Path) -> list[bytes]:
    return (folder / HISTORY_FILE).read_bytes().splitlines()


def put(folder: Path, data: list[bytes]) -> None:
    (folder / HISTORY_FILE).write_bytes(b"".join(x + b"\n" for x in data))


def test_each_line_holds_the_digest_of_the_line_before(five: Path) -> None:
    head, *rest = lines(five)
    told = [json.loads(x) for x in rest]
    assert [x["number"] for x in told] == [1, 2, 3, 4, 5]
    assert told[0]["before"] == ""
    for before, after in zip(rest, told[1:], strict=False):
        assert after["before"] == hashlib.sha256(before).hexdigest()
    assert json.loads(head) == {
        "schema": "fleetstats/history/1", "looks": 5, "last": hashlib.sha256(rest[-1]).hexdigest()
    }  # fmt: skip
    ledger = read_history(five)
    assert ledger.flaws == ledger.odd == ()
    assert [x.date for x in ledger.looks] == [f"20{20 + n}-12-31" for n in range(1, 6)]
    assert {x.written for x in ledger.looks} == {"2027-01-05"}


def test_the_same_look_again_is_not_written_again(five: Path) -> None:
    before = (five / HISTORY_FILE).read_bytes()
    again = dataclasses.replace(look(3), version="9", study_file="other comments", report="FS-1")
    got = append_look(five, again, today=DAY + dt.timedelta(days=400))
    assert (got.state, got.number) == ("again", 3)
    assert (five / HISTORY_FILE).read_bytes() == before


@pytest.mark.parametrize(
    "more",
    [
        {"data": "f" * 64},
        {"date": "2030-01-01"},
        {"verb": "claim"},
        {"chosen": {"targets.reliability": 0.95}},
        {"asked": {"hours": 1000.0, "reliability": 0.9}},
        {"answers": {"failed": 3.0, "failure_high": 0.21}},
        {"verdict": "supported"},
    ],
)
def test_what_differs_is_another_look(five: Path, more: dict[str, object]) -> None:
    assert append_look(five, dataclasses.replace(look(3), **more), today=DAY).state == "written"  # type: ignore[arg-type]
    assert len(read_history(five).looks) == 6


def test_runs_that_saw_the_same_thing_count_once(five: Path) -> None:
    append_look(five, dataclasses.replace(look(3), verb="claim"), today=DAY)
    ledger = read_history(five)
    assert (len(ledger.looks), ledger.n_looks) == (6, 5)


def _edit(x: list[bytes]) -> list[bytes]:
    return [*x[:3], x[3].replace(b"not-yet-shown", b"supported"), *x[4:]]


def _edit_last(x: list[bytes]) -> list[bytes]:
    return [*x[:5], x[5].replace(b"not-yet-shown", b"supported")]


def _forge(x: list[bytes]) -> list[bytes]:
    told = json.loads(x[-1]) | {
        "number": 6, "verdict": "supported", "before": hashlib.sha256(x[-1]).hexdigest()
    }  # fmt: skip
    return [*x, json.dumps(told, separators=(",", ":")).encode()]


def _replace(x: list[bytes]) -> list[bytes]:
    """Another look in place of the third, with the right digest of the second."""
    told = json.loads(x[3]) | {"verdict": "supported"}
    return [*x[:3], json.dumps(told, separators=(",", ":")).encode(), *x[4:]]


TAMPERED: dict[str, tuple[Callable[[list[bytes]], list[bytes]], str]] = {
    "edited": (_edit, "Look 3 was changed after it was written"),
    "replaced": (_replace, "Look 3 was changed after it was written"),
    "last edited": (_edit_last, "Look 5, the last, was changed"),
    "deleted": (lambda x: [*x[:2], *x[3:]], "Look 2 is missing."),
    "first deleted": (lambda x: [x[0], *x[2:]], "Look 1 is missing."),
    "end deleted": (lambda x: x[:4], "Looks 4 and 5 are missing."),
    "all deleted": (lambda x: x[:1], "Looks 1, 2, 3, 4 and 5 are missing."),
    "head deleted": (lambda x: x[1:], "The first line, which says how many looks there are"),
    "reordered": (lambda x: [*x[:2], x[3], x[2], *x[4:]], "not in the order in which they were"),
    "duplicated": (lambda x: [*x[:3], x[2], *x[3:]], "Look 2 stands there more than once."),
    "forged": (_forge, "Look 6 was added by something else."),
    "no look": (lambda x: [*x, b'{"number": 6}'], "Line 6 below the first cannot be read"),
    "no JSON": (lambda x: [*x[:3], b"half a li", *x[4:]], "cannot be read as a look"),
    "not finite": (lambda x: [*x[:3], x[3].replace(b"3.0", b"NaN"), *x[4:]], "cannot be read"),
    "no text": (
        lambda x: [*x[:3], x[3].replace(b"study", b"\\ud800", 1), *x[4:]], "cannot be read"
    ),
    "huge number": (
        lambda x: [*x[:3], x[3].replace(b'"number":3', b'"number":' + b"9" * 5000), *x[4:]],
        "cannot be read",
    ),
}  # fmt: skip


@pytest.mark.parametrize("how", TAMPERED)
def test_tampering_is_found_and_stays_found(five: Path, how: str) -> None:
    change, said = TAMPERED[how]
    put(five, change(lines(five)))
    found = read_history(five).flaws
    assert any(said in f for f in found), found
    # a look added later heals nothing
    got = append_look(five, look(40), today=DAY)
    assert got.state == "written"
    assert set(found) <= set(got.flaws)
    assert any(said in f for f in read_history(five).flaws)
    assert read_history(five).looks[-1].date == "2060-12-31"


def test_a_line_cut_in_the_middle_is_found(five: Path) -> None:
    data = (five / HISTORY_FILE).read_bytes()
    (five / HISTORY_FILE).write_bytes(data[:-60])
    assert any("Look 5 is missing" in f for f in read_history(five).flaws)
    append_look(five, look(40), today=DAY)
    assert any("Look 5 is missing" in f for f in read_history(five).flaws)
    assert read_history(five).looks[-1].number == 6


def test_every_single_byte_that_is_changed_is_found(five: Path) -> None:
    """Each 7th byte of the file becomes another letter: no change goes by."""
    data = (five / HISTORY_FILE).read_bytes()
    for i in range(0, len(data), 7):
        other = b"x" if data[i : i + 1] != b"x" else b"y"
        (five / HISTORY_FILE).write_bytes(data[:i] + other + data[i + 1 :])
        assert read_history(five).flaws, i


def test_other_line_ends_and_a_mark_are_told_apart_from_tampering(five: Path) -> None:
    data = (five / HISTORY_FILE).read_bytes()
    (five / HISTORY_FILE).write_bytes(data.replace(b"\n", b"\r\n"))
    got = read_history(five)
    assert (got.flaws, len(got.looks)) == ((), 5)
    assert "Lines end otherwise" in got.odd[0]
    (five / HISTORY_FILE).write_bytes(b"\xef\xbb\xbf" + data)
    got = read_history(five)
    assert (got.flaws, len(got.looks)) == ((), 5)
    assert "byte-order mark" in got.odd[0]
    assert append_look(five, look(9), today=DAY).state == "written"
    assert read_history(five).flaws == ()
    assert len(read_history(five).looks) == 6


@pytest.mark.parametrize("data", [b"", b"\n\n", b"\x00\xff\xfe" * 50, b"[" * 100_000, b"null\n"])
def test_what_is_no_ledger_is_said_and_never_an_error(tmp_path: Path, data: bytes) -> None:
    (tmp_path / HISTORY_FILE).write_bytes(data)
    got = read_history(tmp_path)
    assert got.there
    assert "The first line, which says how many looks there are" in got.flaws[0]
    assert append_look(tmp_path, look(1), today=DAY).state == "written"
    assert read_history(tmp_path).looks[-1].date == "2021-12-31"
    assert any("The first line" in f for f in read_history(tmp_path).flaws)


def test_a_folder_or_link_in_its_place_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / HISTORY_FILE).mkdir()
    assert "no plain file" in read_history(tmp_path).flaws[0]
    got = append_look(tmp_path, look(1), today=DAY)
    assert got.state == "not-written"
    assert "no plain file" in got.sentence
    (tmp_path / HISTORY_FILE).rmdir()
    elsewhere = tmp_path / "elsewhere.txt"
    elsewhere.write_text("mine", encoding="utf-8")
    (tmp_path / HISTORY_FILE).symlink_to(elsewhere)
    assert append_look(tmp_path, look(1), today=DAY).state == "not-written"
    assert elsewhere.read_text(encoding="utf-8") == "mine"


def test_a_folder_that_cannot_be_written_gives_a_sentence(
    five: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path, _data: object) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    before = (five / HISTORY_FILE).read_bytes()
    monkeypatch.setattr(append_module, "write_whole", refuse)
    got = append_look(five, look(7), today=DAY)
    assert got.state == "not-written"
    assert "not written down in history.jsonl (permission denied)" in got.sentence
    assert (five / HISTORY_FILE).read_bytes() == before
    assert append_look(five / "nowhere", look(7)).state == "not-written"


def _many(folder: Path, first: int) -> None:
    for n in range(8):
        append_look(folder, look(first + n))


def test_runs_at_once_lose_no_look(tmp_path: Path) -> None:
    context = multiprocessing.get_context("fork")
    runs = [context.Process(target=_many, args=(tmp_path, 8 * k)) for k in range(4)]
    for r in runs:
        r.start()
    for r in runs:
        r.join()
    ledger = read_history(tmp_path)
    assert ledger.flaws == ()
    assert len(ledger.looks) == 32
    assert {x.data for x in ledger.looks} == {f"{n:064x}" for n in range(32)}
    assert [p.name for p in tmp_path.iterdir()] == [HISTORY_FILE]


def test_the_digest_of_data_goes_by_content_and_not_by_names(make_study) -> None:  # type: ignore[no-untyped-def]
    first = make_study("engine,exit_hours,ending\nE-1,100,running\n")
    one = digest_data(first)
    renamed = make_study("engine,exit_hours,ending\nE-1,100,running\n", name="other.csv")
    assert digest_data(renamed) == one
    assert digest_data(make_study("engine,exit_hours,ending\nE-1,101,running\n")) != one


def test_settings_that_change_no_answer_are_no_other_look(make_study) -> None:  # type: ignore[no-untyped-def]
    from conftest import HEAD

    plain = chosen_of(make_study())
    titled = chosen_of(make_study(head=HEAD.replace("Test fleet", "Another title")))
    assert titled == plain
    assert chosen_of(make_study(settings="[targets]\nreliability = 0.95\n")) != plain
    assert chosen_of(make_study(settings="claimed_interval_h = 900\n")) == plain


def test_answers_keep_six_digits() -> None:
    assert rounded(1234.56789) == 1234.57
    assert rounded(0.1 + 0.2) == 0.3
    assert rounded(float("inf")) is None
    assert rounded(None) is None
