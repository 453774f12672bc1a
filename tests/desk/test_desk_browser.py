"""The desk in a real browser: by clicks, by keys alone, at two widths, by an open rule set.

The rules are those of axe-core (WCAG 2.2 A and AA, common practice), run by the library that ships
them; the desk's own policy would keep its script out, so these pages alone are opened without it.
"""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from desk_client import served

playwright = pytest.importorskip("playwright.sync_api", reason="no Playwright here (extra 'dev')")
BROWSER = next((b for b in ("chromium", "chromium-browser") if shutil.which(b)), None)
pytestmark = pytest.mark.skipif(BROWSER is None, reason="no Chromium on this machine")

PATIENCE_MS = 120_000
"""A busy machine is slow; no test here is about speed."""
ROOMS = ("records", "odd", "question", "answer", "report", "years")
SHEET = """\
Serial;Total time;Status;Reason;Build;Last reading
A1;812;in service;;std;2025-11-30
A2;1204;kaputt;valve;std;2025-06-01
A3;990;in service;;mod 2;2025-12-31
A3;990;in service;;mod 2;2025-12-31
A4;1310;sold;;std;2025-05-05
A5;1050;in service;;mod 2;2025-10-10
"""


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with playwright.sync_playwright() as p:
        browser = p.chromium.launch(
            executable_path=shutil.which(BROWSER or ""), args=["--no-sandbox"]
        )
        yield browser
        browser.close()


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "our club.csv"
    path.write_text(SHEET, encoding="utf-8")
    return path


def opened(chromium: Any, address: str, **how: Any) -> Any:
    """Return a page that has entered, which notes every error of script and policy."""
    page = chromium.new_context(viewport={"width": 1280, "height": 900}, **how).new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.wrong = []
    page.on("pageerror", lambda e: page.wrong.append(str(e)))
    page.on("console", lambda m: page.wrong.append(m.text) if m.type == "error" else None)
    page.goto(address)
    page.wait_for_selector("body[data-ready]")
    return page


def settled(page: Any) -> None:
    page.wait_for_selector("#swap:not([aria-busy])")


def press(page: Any, name: str) -> None:
    """Press a button by its name, and wait for what comes back."""
    page.get_by_role("button", name=name, exact=True).first.click()
    settled(page)


def go_on(page: Any, name: str, room: str) -> None:
    """Follow a link into a room, and wait until the script of the new page has come."""
    page.get_by_role("link", name=name).click()
    page.wait_for_url(f"**/{room}*")


def test_from_a_raw_sheet_to_an_answer_by_clicks(
    chromium: Any, tmp_path: Path, sheet: Path
) -> None:
    folder = tmp_path / "study"
    folder.mkdir()
    with served(folder, let_in=False) as desk:
        page = opened(chromium, desk.keys.address)
        acts = 0

        def done(n: int = 1) -> None:
            nonlocal acts
            acts += n
            settled(page)

        page.set_input_files("#files", str(sheet))
        press(page, "Add the files")
        done(2)
        page.get_by_label("Meaning of kaputt").first.select_option("failed")
        press(page, "Set: Meaning of kaputt")
        done(2)
        assert "1 row hints at a failure: 1 counted as failures in question" in page.inner_text(
            ".ledger"
        )
        go_on(page, "Next: Odd cells", "odd")
        page.locator("#duplicate-row").get_by_label("Set them aside").check()
        page.locator("#reason-duplicate-row").select_option("told twice")
        page.locator("#duplicate-row").get_by_role("button", name="Decide").click()
        done(4)
        assert "Nothing stops the study" in page.inner_text("main")
        go_on(page, "Next: Question", "question")
        page.get_by_label("Which hours between overhauls").first.fill("800")
        page.keyboard.press("Enter")
        done(3)
        page.get_by_role("link", name="Next: Answer").click()
        page.wait_for_selector("#verdict")
        acts += 1
        before = page.inner_text("#may-quote")
        assert "800 h" in before
        page.locator('input[type="range"]').first.focus()
        page.keyboard.press("ArrowRight")  # the slider answers by itself
        page.wait_for_selector(".trying")
        assert page.inner_text("#may-quote") != before
        assert page.evaluate("document.activeElement.type") == "range"
        page.get_by_role("button", name="Suppose it").click()
        page.wait_for_selector("#more")
        assert acts <= 40
        assert page.wrong == []
        raw = tomllib.loads(desk.study())
        assert raw["study"]["claimed_interval_h"] == 800
        assert raw["treat"] == {"duplicate-row": "set-aside"}
        assert (folder / "our club.csv").read_text() == SHEET


def test_every_form_works_without_the_script(chromium: Any, tmp_path: Path, sheet: Path) -> None:
    """So does one that is sent before the script has come: the browser sends whole pages then."""
    with served(tmp_path, let_in=False) as desk:
        page = chromium.new_context(java_script_enabled=False).new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.goto(desk.keys.address)
        page.set_input_files("#files", str(sheet))
        page.get_by_role("button", name="Add the files", exact=True).click()
        page.get_by_label("Meaning of kaputt").first.select_option("failed")
        page.get_by_role("button", name="Set: Meaning of kaputt", exact=True).first.click()
        page.wait_for_selector("#said p")
        page.get_by_role("link", name="Next: Odd cells").click()
        page.locator("#duplicate-row").get_by_label("Set them aside").check()
        page.locator("#reason-duplicate-row").select_option("told twice")
        page.locator("#duplicate-row").get_by_role("button", name="Decide").click()
        page.wait_for_selector('main:has-text("Nothing stops the study")')
        page.get_by_role("link", name="Next: Question").click()
        page.get_by_label("Which hours between overhauls").first.fill("800")
        page.keyboard.press("Enter")
        page.wait_for_selector("#said p")
        page.get_by_role("link", name="Next: Answer").click()
        assert "800 h" in page.inner_text("#may-quote")
        assert tomllib.loads(desk.study())["study"]["claimed_interval_h"] == 800


def test_a_slider_moved_before_the_script_came_is_answered(chromium: Any, full: Any) -> None:
    """The page is shown before its script runs: what is moved meanwhile must not be lost."""
    page = looked_at(chromium, full, viewport={"width": 1280, "height": 900})
    held: list[Any] = []

    def hold(route: Any) -> None:
        held.append(route)

    page.route("**/static/desk.js", hold)
    page.goto(f"{full.origin}/answer", wait_until="commit")
    page.wait_for_selector("#verdict")
    before = page.inner_text("#may-quote")
    page.locator('input[type="range"]').first.focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_function("document.querySelector('input[type=range]').value === '850'")
    assert held
    assert page.locator(".trying").count() == 0
    held[0].continue_()
    page.wait_for_selector(".trying")
    assert page.inner_text("#may-quote") != before
    assert page.input_value("#in-hours") == "850"


def test_a_slider_that_nobody_moved_asks_nothing(chromium: Any, full: Any) -> None:
    """Hours that are none of its steps: the slider stands beside them and the page as it came."""
    page = looked_at(chromium, full, viewport={"width": 1280, "height": 900})
    asked: list[str] = []
    page.on("request", lambda r: asked.append(r.url))
    page.goto(f"{full.origin}/answer?hours=777&accepted=5&confidence=90&check=50")
    page.wait_for_selector("body[data-ready]")
    assert page.input_value("#in-hours") == "777"
    assert page.input_value("#slide-hours") != "777"
    n = len(asked)
    page.wait_for_timeout(600)  # more than the patience of a slider
    assert asked[n:] == []


def test_the_whole_way_by_keys_alone(chromium: Any, tmp_path: Path, sheet: Path) -> None:
    """No mouse: the focus is seen, stays where it was after an act, and reaches every control."""
    with served(tmp_path, let_in=False) as desk:
        page = opened(chromium, desk.keys.address)
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        page.keyboard.press("Enter")
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.id") == "files"
        page.set_input_files("#files", str(sheet))  # the system's own dialogue is not the page's
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        settled(page)
        page.wait_for_selector("#word-1-endings-1")
        page.focus("#word-1-endings-1")
        page.keyboard.type("failed")
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        page.wait_for_selector('#said p:has-text("kaputt")')
        settled(page)
        assert tomllib.loads(desk.study())["records"][0]["endings"] == {"kaputt": "failed"}
        assert page.evaluate("document.activeElement !== document.body")
        assert page.wrong == []


def test_two_windows_of_one_browser_lose_nothing(
    chromium: Any, tmp_path: Path, sheet: Path
) -> None:
    with served(tmp_path, let_in=False) as desk:
        first = opened(chromium, desk.keys.address)
        first.set_input_files("#files", str(sheet))
        press(first, "Add the files")
        first.goto(f"{desk.origin}/question")
        second = first.context.new_page()
        second.goto(f"{desk.origin}/question")
        for page, told in ((first, "800"), (second, "900")):
            page.get_by_label("Which hours between overhauls").first.fill(told)
            page.keyboard.press("Enter")
            settled(page)
            page.wait_for_selector("#said p")
        second.wait_for_selector('#said p:has-text("Nothing was written")')
        assert second.input_value('[id="in-study.claimed_interval_h"]') == "800"
        assert tomllib.loads(desk.study())["study"]["claimed_interval_h"] == 800


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A desk on a folder in which every room has something to show."""
    folder = tmp_path_factory.mktemp("full")
    (folder / "club.csv").write_text(SHEET, encoding="utf-8")
    (folder / "study.toml").write_text(
        '[study]\ntitle = "Our club"\nanalysis_date = 2025-12-31\nclaimed_interval_h = 800\n'
        '[treat]\nduplicate-row = "accept"\n'
        '[[records]]\nfile = "club.csv"\n[records.endings]\nkaputt = "failed"\n',
        encoding="utf-8",
    )
    (folder / "report").mkdir()
    (folder / "report" / "report.html").write_text("<p>report")
    with served(folder) as desk:
        desk.act("/question/choose", table="study", key="asked_by", answer="club")
        yield desk


def looked_at(chromium: Any, desk: Any, **how: Any) -> Any:
    context = chromium.new_context(**how)
    name, _, told = desk.cookie.partition("=")
    context.add_cookies([{"name": name, "value": told, "url": desk.origin}])
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    return page


@pytest.mark.parametrize(
    ("width", "scheme"), [(1280, "light"), (400, "dark")], ids=["wide-light", "narrow-dark"]
)
def test_every_room_keeps_the_rules_and_fits(
    chromium: Any, full: Any, width: int, scheme: str
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="no axe-core here")
    page = looked_at(
        chromium, full, viewport={"width": width, "height": 900}, color_scheme=scheme,
        bypass_csp=True,
    )  # fmt: skip
    rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    for room in ROOMS:
        query = "?hours=700&more=1&build=std&cause=" if room == "answer" else "?said=Done&tone=done"
        page.goto(f"{full.origin}/{room}{query}")
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        found = axe.Axe().run(page, options={"runOnly": rules}).response["violations"]
        assert [(v["id"], [n["html"][:160] for n in v["nodes"]]) for v in found] == [], room
        assert page.evaluate("document.documentElement.scrollWidth") <= width, room


def test_large_type_and_paper(chromium: Any, full: Any) -> None:
    """Twice the type at 1280 px is what 640 px show; on paper the controls are gone."""
    page = looked_at(chromium, full, viewport={"width": 1280, "height": 900})
    for room in ROOMS:
        page.goto(f"{full.origin}/{room}")
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        assert page.evaluate("document.documentElement.scrollWidth") <= 1280, room
    page.goto(f"{full.origin}/answer")
    page.emulate_media(media="print")
    assert page.locator("nav ol").is_hidden()
    assert page.locator(".ledger").is_visible()
    assert page.locator("#verdict").is_visible()
