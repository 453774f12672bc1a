"""What the guides show of the six shops and of the rough register, as a hand at the page finds it.

``PYTHONPATH=tests/shops python tests/desk_pages.py`` writes it anew into ``reports/docs``; the
tests of the desk hold the pages to it.
"""

from __future__ import annotations

import csv
import re
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import openpyxl
from desk_client import served
from desk_hand import Hand, Settled, chromium, sit_down
from shop_made import Shop
from shop_makers import SHOPS
from shop_rough import rough

from fleetstats.vocabulary.wording import count

DOCS = Path(__file__).parents[1] / "reports" / "docs"
GUIDE, DESK = DOCS / "from-your-spreadsheet.md", DOCS / "desk.md"
CLAIMED_H = 800.0
"""Claimed in every shop; within the evidence of each."""

ROUGH_SETTLED = {
    "date-future": Settled(how="give", told="2025-12-20"),
    "hours-unreadable": Settled(how="aside", told="it cannot be read, and nobody knows"),
    "duplicate-row": Settled(how="set-aside", told="told twice"),
    "date-impossible": Settled(how="take"),
    "ids-alike": Settled(how="take"),
    "duplicate-life": Settled(how="set-aside", told="told twice"),
}
"""What the keeper of the rough register knows of its odd cells, in the order of the work."""


@dataclass(frozen=True, kw_only=True)
class Went:
    """One way from drop to answer: what the hand did, and what the page then said."""

    shop: Shop
    hand: Hand
    engines: float
    failures: float
    hours_h: float
    word: str
    may: str
    may_not: str
    band: str
    ledger: str

    @property
    def bound(self) -> str:
        """Return the chance of the failure by the claimed hours, at most, as the page says it."""
        first, *more = re.findall(r"at most (\S+ %)", self.may)
        return ", or ".join([first, *(f"{x} with those that are only told" for x in more)])


def go_through(
    browser: Any, shop: Shop, folder: Path, settled: dict[str, Settled] | None = None
) -> Went:
    """Go from the shop's files to its answer by hand, on a desk of its own."""
    folder.mkdir()
    with served(folder, let_in=False) as desk:
        hand = sit_down(browser, desk.keys.address)
        hand.drop(shop.files)
        hand.answer(shop.answers)
        hand.go("Odd cells")
        hand.settle(settled or {})
        stops = hand.read(".account strong")
        assert stops == "Nothing stops the study.", stops
        hand.go("Question")
        hand.claim(CLAIMED_H)
        hand.go("Answer")
        hand.page.wait_for_selector("#verdict")
        base = desk.app.place.reader.with_base().base
        assert base is not None
        may, may_not = hand.page.locator(".answer p").all_inner_texts()
        went = Went(
            shop=shop, hand=hand, engines=base.spells.n_engines, failures=base.spells.n_failed,
            hours_h=base.spells.exposure_h,
            word=hand.page.locator("#verdict .word").evaluate("e => e.lastChild.textContent"),
            may=hand.read("#may-quote"), may_not=_after_label(hand, may_not, may),
            band=hand.read("#band"), ledger=hand.read(".ledger"),
        )  # fmt: skip
        hand.page.context.close()
        return went


def _after_label(hand: Hand, may_not: str, may: str) -> str:
    assert hand.read("#may-quote") in " ".join(may.split())
    label = hand.page.locator(".answer .label").nth(1).inner_text()
    return " ".join(may_not.split()).removeprefix(label).strip()


def acts_table(hand: Hand) -> str:
    """Return the acts of a way as a table of room, act and how many, with their sum."""
    lines = ["| room | act | how many |", "| --- | --- | --- |"]
    lines += [f"| {_room(room)} | {act} | {n} |" for (room, act), n in hand.counted.items()]
    return "\n".join([*lines, f"| all | | {len(hand.acts)} |"])


def rough_way(went: Went) -> str:
    """Return the acts of the rough register's way, and what comes out of it."""
    return "\n".join([
        acts_table(went.hand), "",
        f"Out of it comes, with {CLAIMED_H:,.0f} h claimed: **{went.word}**.", "",
        f"> {_code(went.may)}", "",
        went.band,
    ])  # fmt: skip


def _room(name: str) -> str:
    return {"odd": "Odd cells"}.get(name, name.capitalize())


def summary(ways: Sequence[Went]) -> str:
    """Return the table of the six shops."""
    lines = [
        "| shop | open: lines at the prompt, clicks on the page | acts in all "
        f"| verdict on {CLAIMED_H:,.0f} h "
        "| fail by then, at most |",
        "| --- | --- | --- | --- | --- |",
    ]
    lines += [
        f"| {w.shop.name} | {len(w.hand.asked)} | {len(w.hand.acts)} | {w.word} | {w.bound} |"
        for w in ways
    ]
    return "\n".join(lines)


def section(went: Went) -> str:
    """Return what the guide says of one shop: its sheet, what is asked, what comes out."""
    shop, t = went.shop, went.shop.truth
    doc = (SHOPS[shop.name].__doc__ or "").strip()
    asked = [f"- {_code(asks)} → **{_code(told)}**" for asks, told in went.hand.asked]
    return "\n".join([
        f"### {shop.name.capitalize()}", "", doc, "",
        "```text", *first_lines(shop.files[0]), "```", "",
        *(["Asked, and answered by somebody who knows the shop:", "", *asked] if asked
          else ["Nothing is asked."]), "",
        f"Counted: {count(t.engines, 'engine')}, {count(t.failures, 'failure')}, "
        f"{t.hours_h:,.1f} h; the shop was drawn with just these. With {CLAIMED_H:,.0f} h claimed, "
        f"after {len(went.hand.acts)} acts: **{went.word}**.", "",
        f"> {_code(went.may)}", "",
        went.band,
    ])  # fmt: skip


def _code(told: str) -> str:
    """Return a sentence with what stands in its quotes kept from being read as markup."""
    return re.sub(r"[<>\[\]*_`]", lambda m: "\\" + m[0], told)


def first_lines(path: Path, n: int = 6, width: int = 96) -> list[str]:
    """Return the first lines of a file as they look, signs that cannot be shown as a point."""
    if path.suffix == ".xlsx":
        book = openpyxl.load_workbook(path)
        rows = [list(r) for r in book.worksheets[0].iter_rows(max_row=n, values_only=True)]
    else:
        data = path.read_bytes()
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:
            text = data.decode("cp1252")
        mark = ";" if text.count(";") > text.count(",") else ","
        rows = list(csv.reader(text.splitlines(keepends=True), delimiter=mark))[:n]
    return [_line(r, width) for r in rows]


def _line(row: Sequence[Any], width: int) -> str:
    cells = ["" if c is None else str(c).removesuffix(" 00:00:00") for c in row]
    while cells and not cells[-1]:
        cells.pop()
    told = " | ".join(cells)
    told = "".join(c if c.isprintable() else "·" for c in told)
    return told if len(told) <= width else told[: width - 1].rstrip() + "…"


def between(name: str, text: str) -> str:
    """Return what stands between the marks of a name in a page."""
    return text.partition(f"<!-- {name} -->\n")[2].partition(f"\n<!-- end of {name} -->")[0]


def _put(path: Path, name: str, told: str) -> None:
    text = path.read_text(encoding="utf-8")
    old = between(name, text)
    head = f"<!-- {name} -->\n"
    assert head in text, f"{path.name} has no marks of {name}"
    path.write_text(text.replace(head + old, head + told, 1), encoding="utf-8")


def main() -> None:
    """Go every way and write the pages."""
    with tempfile.TemporaryDirectory() as place, chromium() as browser:
        ways = []
        for name, make in SHOPS.items():
            raw = Path(place) / f"raw {name}"
            raw.mkdir()
            ways.append(go_through(browser, make(raw), Path(place) / name))
        shop = rough(Path(place))
        went = go_through(browser, shop, Path(place) / "rough", ROUGH_SETTLED)
        _put(GUIDE, "shops", summary(ways))
        _put(GUIDE, "each", "\n\n".join(section(w) for w in ways))
        _put(DESK, "acts", rough_way(went))


if __name__ == "__main__":
    main()
