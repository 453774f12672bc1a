"""The figures of the brief, on the page, open what they rest on: each links to its own.

No outside source: that a link leads to the figure that it stands on is what a link means.
"""

from __future__ import annotations

import re
from html import unescape

import pytest
from made_studies import DEMOS, document_of, results_of

from fleetstats.report.html import page_html
from fleetstats.report.lineage import find_links, lineage_html
from fleetstats.studies.lineage import trace_figures

LINK = re.compile(r'<a class="traced" href="lineage\.html#([^"]+)">([^<]*)</a>')


def brief_links(name: str) -> tuple[list[tuple[str, str]], set[str], dict[str, tuple[str, ...]]]:
    """Return the links of a brief, the anchors of its lineage, and how each figure is printed."""
    results = results_of(name)
    lineage = trace_figures(results)
    page = page_html(document_of(name), None, find_links(results, lineage))
    brief = page[page.index('class="first brief"') : page.index('class="sign"')]
    anchors = set(re.findall(r'id="([^"]+)"', lineage_html(lineage)))
    printed = {f.key: tuple(p.replace("\xa0", " ") for p in f.printed) for f in lineage.figures}
    found = [(k, unescape(t).replace("\xa0", " ")) for k, t in LINK.findall(brief)]
    return found, anchors, printed


@pytest.mark.parametrize("name", DEMOS)
def test_each_figure_of_the_brief_opens_its_own(name: str) -> None:
    found, anchors, printed = brief_links(name)
    assert len(found) >= 5
    for key, text in found:
        assert key in anchors
        bare = re.sub(r"\s*h$", "", text)
        assert any(bare == re.sub(r"\s*h$", "", p) or text in p or bare in p for p in printed[key])


def test_the_weak_points_and_the_answer_of_the_tow_clubs_are_linked() -> None:
    found, _, _ = brief_links("tow-clubs")
    texts = {t for _, t in found}
    assert {"13 %", "700 h", "2,240 h", "27", "176"} <= texts
    keys = {k for k, t in found if t == "13 %"}
    assert any(k.startswith("weak-point-1-") for k in keys)


def test_a_confidence_is_no_target() -> None:
    """The share that shall reach overhaul is printed as the confidence of a band is: 90 %."""
    results = results_of("tow-clubs")
    links = find_links(results, trace_figures(results))
    assert links.link_figures("its chance is 3 % (2 % to 5 %, 90 % band)") == (
        ("its chance is 3 % (2 % to 5 %, 90 % band)", ""),
    )
