"""The page in a browser: fits 400 px, answers back, sorts and filters, works by keyboard.

The browser is asked once for each width. A copy of the page gets a second script that plays a
reader and writes what it saw into the page; the policy that forbids other scripts is taken out of
that copy and tested elsewhere.
"""

from __future__ import annotations

import math
import re

import pytest
from browser import BROWSER, play
from report_document import EVIL, make_document, tabulated

from fleetstats.report.html import page_html

pytestmark = pytest.mark.skipif(
    BROWSER is None, reason="no Chromium on this machine, so the page cannot be tried in one"
)

PLAYER = r"""
(function () {
  var seen = {errors: window.playErrors};
  function all(selector, within) {
    return Array.from((within || document).querySelectorAll(selector));
  }
  function text(node) { return node.textContent; }
  function rows() {
    return all("#readings tbody tr").map(function (r) { return Array.from(r.cells).map(text); });
  }
  function key(node, name, times) {
    for (var i = 0; i < (times || 1); i++) node.dispatchEvent(
      new KeyboardEvent("keydown", {key: name, bubbles: true, cancelable: true}));
  }
  function turn(input, value) { input.value = value; input.dispatchEvent(new Event("input")); }
  seen.ready = document.documentElement.dataset.ready;
  seen.width = document.documentElement.scrollWidth;
  seen.window = window.innerWidth;
  seen.wide = getComputedStyle(document.querySelector(".plot .wide")).display;
  seen.narrow = getComputedStyle(document.querySelector(".plot .narrow")).display;
  seen.small = all("p, td, th, li, dd, label").filter(function (e) {
    return e.offsetParent && parseFloat(getComputedStyle(e).fontSize) < 10.5;
  }).length;
  seen.spill = all("main *").filter(function (e) {
    if (e.closest(".scroll") || e.closest("svg") || e.closest(".unseen")) return false;
    return e.getBoundingClientRect().right > window.innerWidth + 1;
  }).map(function (e) { return e.tagName + "." + e.className; });
  seen.start = rows();
  seen.moved = all("#readings .moved").length;
  var hidden = document.getElementById("knob-hidden");
  var claim = document.getElementById("knob-claim_h");
  turn(hidden, 1);
  turn(claim, 1250);
  seen.turned = rows();
  seen.turnedMoved = all("#readings .moved").length;
  seen.said = text(document.getElementById("readings-say"));
  seen.spoken = claim.getAttribute("aria-valuetext");
  seen.named = all(".knob input").every(function (i) {
    return document.querySelector("label[for='" + i.id + "']");
  });
  turn(hidden, 2);
  seen.none = rows();
  document.getElementById("knobs-reset").click();
  seen.reset = rows();
  var table = document.querySelector("#table-engines table");
  function column(i) {
    return Array.from(table.tBodies[0].rows).map(function (r) { return text(r.cells[i]); });
  }
  var head = table.tHead.rows[0].cells[3], button = head.querySelector("button");
  button.click();
  seen.rising = column(3);
  seen.sort = head.getAttribute("aria-sort");
  button.click();
  seen.falling = column(3);
  turn(document.querySelector("#table-engines input[type=search]"), "e-007 failed");
  seen.filtered = all("tbody tr", table).filter(function (r) { return !r.hidden; })
    .map(function (r) { return text(r.cells[0]); });
  var plot = document.querySelector("[data-figure='survival']");
  plot.focus();
  key(plot, "ArrowLeft", 60);
  key(plot, "ArrowRight", 30);
  var box = plot.querySelector(".readout");
  seen.readout = text(box);
  seen.live = text(plot.querySelector("[aria-live]"));
  key(plot, "ArrowRight", 12);
  seen.end = text(box);
  var edge = box.getBoundingClientRect();
  seen.boxInside = edge.left >= 0 && edge.right <= window.innerWidth;
  key(plot, "Escape");
  seen.closed = box.hidden;
  var other = document.querySelector("[data-figure='other']");
  key(other, "PageDown");
  key(other, "ArrowDown", 9);
  seen.row = text(other.querySelector(".readout"));
  parent.postMessage(JSON.stringify(seen), "*");
})();
"""


@pytest.fixture(scope="module")
def page() -> str:
    return page_html(make_document())


@pytest.fixture(scope="module")
def wide(page: str, tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    return play(page, tmp_path_factory.mktemp("wide"), 1280, PLAYER)


@pytest.fixture(scope="module")
def narrow(page: str, tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    return play(page, tmp_path_factory.mktemp("narrow"), 400, PLAYER, dark=True)


def test_no_error_at_either_width(wide: dict[str, object], narrow: dict[str, object]) -> None:
    for seen in (wide, narrow):
        assert seen["errors"] == []
        assert seen["ready"] == "yes"


def test_it_fits_400_pixels_without_scrolling_sideways(narrow: dict[str, object]) -> None:
    assert narrow["window"] == 400
    assert narrow["width"] == 400
    assert narrow["spill"] == []
    assert narrow["small"] == 0
    assert (narrow["wide"], narrow["narrow"]) == ("none", "block")


def test_it_fits_1280_pixels(wide: dict[str, object]) -> None:
    assert wide["width"] == 1280
    assert wide["spill"] == []
    assert (wide["wide"], wide["narrow"]) == ("block", "none")


def words(text: object) -> str:
    return str(text).replace("\u00a0", " ")


def test_the_page_starts_where_the_study_stands(wide: dict[str, object]) -> None:
    assert wide["moved"] == 0
    assert [words(c) for c in wide["start"][0]] == ["Verdict", "not yet shown"]  # type: ignore[index]
    assert words(wide["start"][2][1]) == "900 h"  # type: ignore[index]


def test_turning_knobs_gives_what_the_tables_say(wide: dict[str, object]) -> None:
    t = tabulated()
    value, beyond = t.look_up(t.readings[1], claim_h=1250.0, hidden=1.0)
    assert isinstance(value, float)
    assert not beyond
    turned = [[words(c) for c in row] for row in wide["turned"]]  # type: ignore[attr-defined]
    assert turned[0][1] == t.look_up(t.readings[0], claim_h=1250.0, hidden=1.0)[0]
    assert turned[1][1] == f"{math.floor(100 * value)} %"  # a lower bound is rounded down
    assert turned[2][1] == "850 h"
    assert wide["turnedMoved"] == 2
    assert "Reliability" in str(wide["said"])
    assert words(wide["spoken"]) == "1,250 h"
    assert wide["named"] is True


def test_no_answer_is_said_and_reset_goes_back(wide: dict[str, object]) -> None:
    assert words(wide["none"][2][1]) == "not shown at any age"  # type: ignore[index]
    assert wide["reset"] == wide["start"]


def test_tables_sort_by_number_and_filter_by_words(wide: dict[str, object]) -> None:
    def numbers(column: object) -> list[float]:
        shown = [words(c) for c in column if c != "–"]  # type: ignore[attr-defined]
        return [float(c.removesuffix(" %")) for c in shown]

    rising, falling = numbers(wide["rising"]), numbers(wide["falling"])
    assert len(rising) == 6
    assert rising == sorted(rising)
    assert falling == sorted(falling, reverse=True)
    assert wide["sort"] == "ascending"
    assert wide["filtered"] == ["E-007"]


def test_values_on_curves_by_keyboard(wide: dict[str, object], narrow: dict[str, object]) -> None:
    import numpy as np

    for seen in (wide, narrow):
        text = words(seen["readout"])
        hours = float(re.match(r"([\d,]+) h", text)[1].replace(",", ""))  # type: ignore[index]
        shown = float(re.search(r"fit: ([\d.]+) %", text)[1])  # type: ignore[index]
        want = 100 * float(np.exp(-((hours / 2200) ** 2.4)))
        assert shown == pytest.approx(want, abs=0.6)  # hours to 1 h, curve to two digits
        assert "90 % band" in text
        assert "steps" in text
        assert "extrapolated" not in text
        assert "(extrapolated)" in words(seen["end"])
        assert seen["live"]
        assert seen["boxInside"] is True
        assert seen["closed"] is True


def test_names_in_a_figure_are_text(wide: dict[str, object]) -> None:
    # the last category stands at the bottom; its name is as evil as names get
    assert "script" in str(wide["row"])
    assert EVIL.split(" &")[0] in str(wide["row"])
