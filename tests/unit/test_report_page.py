"""The page: self-contained, escaped, in order for those who cannot see it."""

from __future__ import annotations

import base64
import hashlib
import itertools
import json
import re
from html.parser import HTMLParser
from importlib import resources

import pytest
from report_document import EVIL, curve_figure, engines_table, make_document

from fleetstats.core.errors import ReportError
from fleetstats.document.document import Column, Section, Table
from fleetstats.report.figures.style import DARK, NAMES
from fleetstats.report.html import page_html
from fleetstats.vocabulary.caution import STANDING_NOTICE


class Reader(HTMLParser):
    """Collects what the tests ask about."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.open: list[str] = []
        self.raw = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if "script" not in self.open and "style" not in self.open:
            self.text.append(data)


@pytest.fixture(scope="module")
def page() -> str:
    return page_html(make_document())


@pytest.fixture(scope="module")
def read(page: str) -> Reader:
    out = Reader()
    out.feed(page)
    return out


def test_nothing_is_fetched(page: str, read: Reader) -> None:
    assert "https:" not in page
    assert not re.search(r"@import|@font-face|url\((?!#)", page)
    assert set(re.findall(r"http:[^\"' )]+", page)) <= {
        "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}  # fmt: skip
    for tag, attrs in read.tags:
        assert tag not in ("link", "iframe", "object", "embed", "img", "base")
        assert not attrs.get("src")
        for name in attrs:
            assert not name.startswith("on"), f"{tag} has {name}"


def test_only_the_page_s_own_script_may_run(page: str) -> None:
    scripts = re.findall(r"<script>(.*?)</script>", page, flags=re.DOTALL)
    assert len(scripts) == 1
    digest = base64.b64encode(hashlib.sha256(scripts[0].encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in page
    assert "default-src 'none'" in page


def test_text_from_outside_stays_text(page: str, read: Reader) -> None:
    assert "<script>alert" not in page
    assert page.count("<script") == 2
    assert "\u202e" not in page
    assert "\x07" not in page
    shown = " ".join(read.text)
    assert '<script>alert("x")</script>' in shown


def test_the_page_opens_with_verdict_answer_picture_notice_in_that_order(page: str) -> None:
    places = [
        page.index(s)
        for s in ("Not yet shown</p>", "First 1,200\u00a0h.", "Third.", 'id="fig-survival"',
                  "This is a statistical summary", 'id="contents-title"', 'id="cautions"',
                  'id="summaries"', 'id="answers-back"', 'id="answer"', 'id="data"', 'id="terms"')
    ]  # fmt: skip
    assert places == sorted(places)
    for line in STANDING_NOTICE:
        assert line.replace("'", "&#39;") in page


def test_headings_step_down_one_at_a_time(read: Reader) -> None:
    levels = [int(t[1]) for t, _ in read.tags if re.fullmatch(r"h[1-6]", t)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))


def test_identifiers_are_unique_and_every_inner_link_has_its_place(read: Reader) -> None:
    ids = [a["id"] for _, a in read.tags if a.get("id")]
    assert len(ids) == len(set(ids))
    links = [a["href"] for t, a in read.tags if t == "a"]
    assert links
    for link in links:
        assert link is not None
        assert link.startswith("#")
        assert link[1:] in ids
    labels = [a["aria-labelledby"] for _, a in read.tags if a.get("aria-labelledby")]
    assert set(labels) <= set(ids)


def test_landmarks_labels_and_scopes(read: Reader) -> None:
    tags = [t for t, _ in read.tags]
    for tag in ("main", "nav", "header", "footer"):
        assert tags.count(tag) == 1
    assert dict(read.tags)["html"]["lang"] == "en"
    drawn = [a for t, a in read.tags if t == "svg" and a.get("role") == "img"]
    assert len(drawn) == 2 * 2  # two figures, wide and narrow
    assert all(a["aria-label"] for a in drawn)
    for tag, attrs in read.tags:
        if tag == "th":
            assert attrs.get("scope") in ("col", "row")
        if tag == "div" and (attrs.get("class") or "").startswith("scroll"):
            assert attrs.get("tabindex") == "0"
            assert attrs.get("aria-label")


def test_tones_are_told_in_words_and_not_by_colour_alone(page: str) -> None:
    for word in ("Caution", "Beyond the evidence", "The data cannot say", "Assumed", "Answer"):
        assert f">{word}</span>" in page


def test_answers_stand_in_the_page_also_without_script(page: str) -> None:
    body = page[page.index('id="readings"') : page.index('id="readings-say"')]
    assert "not yet shown" in body
    assert "900\u00a0h" in body  # 900 rounded down to 50


def test_the_data_in_the_page_is_json_and_says_nothing_twice(page: str) -> None:
    text = re.search(r'id="page-data">(.*?)</script>', page, flags=re.DOTALL)
    assert text is not None
    data = json.loads(text[1])
    assert set(data) == {"figures", "tabulated"}
    assert data["tabulated"]["knobs"][0]["key"] == "claim_h"
    survival = data["figures"]["survival"]
    assert len(survival["panels"]) == len(survival["wide"]) == len(survival["narrow"]) == 1
    assert survival["panels"][0]["layers"][0]["far"] == 1450.0


def test_long_tables_are_cut_in_words(page: str) -> None:
    import dataclasses

    long = dataclasses.replace(engines_table(), rows=engines_table().rows * 20)
    doc = dataclasses.replace(
        make_document(), sections=(Section(key="s", title="S", blocks=(long,)),), first_figure=None
    )
    assert "The first 400 of 600 rows are shown." in page_html(doc)


def test_dark_and_light_colours_of_figures_are_those_of_the_drawings() -> None:
    css = (resources.files("fleetstats.report") / "templates" / "page.css").read_text("utf-8")
    light, dark = css.split("@media (prefers-color-scheme: dark)", 1)
    for color, name in NAMES.items():
        assert f"--fig-{name}: {color};" in light
        assert f"--fig-{name}: {DARK[color]};" in dark.split("* {", 1)[0]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"verdict": "fine"}, "unknown verdict 'fine'"),
        ({"sections": (Section(key="A b", title="", blocks=()),)}, "Section key 'A b'"),
        (
            {"sections": (Section(key="a", title="", blocks=(curve_figure("../x"),)),)},
            "'../x' of a table or figure",
        ),
        (
            {"sections": (Section(key="a", title="", blocks=(curve_figure(),)),)},
            "share the key 'survival'",
        ),
        (
            {
                "sections": (
                    Section(
                        key="a",
                        title="",
                        blocks=(
                            Table(key="t", title="", columns=(Column(key="c", title=""),),
                                  rows=((1, 2),)),
                        ),
                    ),
                )
            },
            "row 1: 2 cells",
        ),
    ],
)  # fmt: skip
def test_what_does_not_hold_together_is_refused(change: dict[str, object], says: str) -> None:
    import dataclasses

    with pytest.raises(ReportError, match=re.escape(says)):
        page_html(dataclasses.replace(make_document(), **change))  # type: ignore[arg-type]


def test_the_evil_text_is_as_evil_as_it_should_be() -> None:
    assert "<script>" in EVIL
    assert "-->" in EVIL
