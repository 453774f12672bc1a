"""A person's hand at the desk in a real browser: each click, choice and typed field is an act.

It reads nothing but what the page shows and presses nothing but what the page offers. What the
person knows of the shop comes in as answers to what is asked.
"""

from __future__ import annotations

import json
import shutil
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

BROWSER = next((b for b in ("chromium", "chromium-browser") if shutil.which(b)), None)
PATIENCE_MS = 120_000
"""A busy machine is slow; nothing here is about speed."""


@dataclass(frozen=True, kw_only=True)
class Settled:
    """What a person does about one kind of odd cells.

    `how` is ``take`` (what is proposed), ``give`` (`told` in place of the cell), ``aside`` (each of
    the first `n` rows, by the reason `told`), or what is done with the whole kind (``accept``,
    ``set-aside``), by the reason `told`.
    """

    how: str
    told: str = ""
    n: int = 1


@dataclass
class Hand:
    """One person, one window; `acts` are (room, act) in order, `asked` (question, answer given)."""

    page: Any
    acts: list[tuple[str, str]] = field(default_factory=list)
    asked: list[tuple[str, str]] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    @property
    def counted(self) -> Counter[tuple[str, str]]:
        """Return how often each act was done in each room."""
        return Counter(self.acts)

    def _done(self, what: str) -> None:
        room = self.page.url.partition("//")[2].partition("/")[2].partition("?")[0]
        self.acts.append((room.partition("#")[0] or "records", what))

    def click(self, what: str, where: Any) -> None:
        """Click one thing and wait for what comes back."""
        self._done(what)
        where.click()
        self.page.wait_for_selector("#swap:not([aria-busy])")

    def choose(self, what: str, where: Any, told: str) -> None:
        """Choose from a list."""
        self._done(what)
        where.select_option(told)

    def write(self, what: str, where: Any, told: str) -> None:
        """Type into a field."""
        self._done(what)
        where.fill(told)

    def go(self, name: str) -> None:
        """Follow the link to the next room."""
        self.click("go to the next room", self.page.get_by_role("link", name=f"Next: {name}"))
        self.page.wait_for_selector("body[data-ready]")

    def drop(self, files: Sequence[Path]) -> None:
        """Choose the files, all at once, and add them."""
        self._done("choose the files")
        self.page.set_input_files("#files", [str(p) for p in files])
        self.click("add them", self.page.locator("#drop-do"))

    def answer(self, answers: Mapping[str, str]) -> None:
        """Answer what stands open, the first first, until nothing does."""
        while self.page.locator("#open form[data-ask]").count():
            form = self.page.locator("#open form[data-ask]").first
            key = form.locator('input[name="key"]').input_value()
            told = answers[key]
            button = form.locator(f"button[value={json.dumps(told)}]")
            if not button.is_visible():
                self.click("see other answers", form.locator("summary"))
            asks = " ".join(form.locator("legend").inner_text().split())
            self.asked.append((asks, button.locator("b").inner_text().strip()))
            self.click("answer an open thing", button)
            said = self.page.locator("#said p")
            assert "said-done" in (said.get_attribute("class") or ""), said.inner_text()

    def settle(self, known: Mapping[str, Settled]) -> None:
        """Settle the kinds of odd cells of which the person knows something."""
        for code, one in known.items():
            kind = self.page.locator(f'[id="{code}"]')
            assert kind.count() == 1, code
            if one.how == "take":
                self._take(kind, code)
            elif one.how in ("give", "aside"):
                for _ in range(one.n):
                    self._cell(self.page.locator(f'[id="{code}"] .found > li').first, one)
            else:
                self.click("choose for a kind", kind.locator(f'input[value="{one.how}"]'))
                self.choose("choose a reason", kind.locator(f"#reason-{code}"), one.told)
                self.click("decide a kind", kind.locator(f"#do-{code}"))

    def _take(self, kind: Any, code: str) -> None:
        whole = kind.locator(f"#take-{code}")
        if whole.count():
            self.click("take all proposed values of a kind", whole)
        else:
            self.click("take a proposed value", kind.locator('button[value="take"]').first)

    def _cell(self, cell: Any, one: Settled) -> None:
        self.click("see what else may be done", cell.locator("summary"))
        if one.how == "give":
            self.write("type a value", cell.locator('input[name="new"]'), one.told)
            self.click("give a value", cell.locator('button[value="give"]'))
        else:
            self.choose("choose a reason", cell.locator('select[name="reason"]'), one.told)
            self.click("set a row aside", cell.locator('button[value="aside"]'))

    def claim(self, hours: float) -> None:
        """Say in the Question room which hours are claimed."""
        form = self.page.locator('[id="study.claimed_interval_h"]')
        self.write("type the claimed hours", form.locator("input[type=number]"), f"{hours:g}")
        self.click("set them", form.get_by_role("button", name="Set").first)

    def read(self, where: str) -> str:
        """Return what stands in a place of the page, as text."""
        return " ".join(str(self.page.inner_text(where)).split())


@contextmanager
def chromium() -> Iterator[Any]:
    """Give a headless browser."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as p:
        browser = p.chromium.launch(
            executable_path=shutil.which(BROWSER or ""), args=["--no-sandbox"]
        )
        yield browser
        browser.close()


def sit_down(browser: Any, address: str, *, width: int = 1280) -> Hand:
    """Open a desk in a window of its own; errors of script and policy are noted in `wrong`."""
    page = browser.new_context(viewport={"width": width, "height": 900}).new_page()
    page.set_default_timeout(PATIENCE_MS)
    hand = Hand(page=page)
    page.on("pageerror", lambda e: hand.wrong.append(str(e)))
    page.on("console", lambda m: hand.wrong.append(m.text) if m.type == "error" else None)
    page.goto(address)
    page.wait_for_selector("body[data-ready]")
    return hand
