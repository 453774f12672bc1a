"""A report points only to parts that it has: sections, tables, figures, files, anchors.

Common sense, no source. The reports: all four shipped studies, and made ones without failures,
with few, without dates, without a claim, without groups and without enough lives.
"""

from __future__ import annotations

import re

import pytest
from made_studies import DEMOS, STUDIES, document_of, texts_of

from fleetstats.chapters.registry import CHAPTERS
from fleetstats.document.annexes import ANNEXES, annexes_of, body_of, in_order
from fleetstats.document.cells import set_text
from fleetstats.document.document import TONES, Document, Figure, Section, Statement, Table
from fleetstats.document.parts import find_figures, find_tables
from fleetstats.document.references import find_targets, point, resolve
from fleetstats.report.html import page_html

PROSE = {
    r"what is hidden": {"hidden"},
    r"beside the plan|^No failure was reported.*[Tt]he plan": {"plan"},
    r"unreported failures belong": {"hidden"},
    r"answers under the rival priors": {"shrunken-source", "shrunken-build"},
    r"[Ss]ee the comparison of groups": {"pooling"},
    r"outer band that counts": {"outer-band", "hidden"},
    r"[Ll]isted below|[Ee]ach stands below": {"failures"},
    r"the interval estimate needs no such choice": {"probability", "survival"},
    r"table of targets stands in its place": {"risk-targets"},
    r"table of targets stands in place of a verdict": {"check-longest"},
    r"account above": {"sources"},
    r"[Ee]ach failure and each removal on a finding is listed": {"failures"},
    r"what was done stands in the table": {"findings-by-kind"},
    r"best estimates above": {"estimates"},
}
"""Pointers that sentences of lower floors make in their own words, and what each leads to."""

OLD = re.compile(
    r"\blater part\b|\bthe part on\b|Sensitivity: |Analysis: |Exposure: |Data: clock|"
    r"judged with the checks|stand under provenance"
)
"""Pointers by words that no heading has."""


def keys_of(document: Document) -> set[str]:
    return {key for key, _ in find_targets(document)}


@pytest.mark.parametrize("name", STUDIES)
def test_each_pointer_names_a_heading_that_is_there(name: str) -> None:
    document = document_of(name)
    titles = {p.words: k for k, p in find_targets(document)}
    assert document.pointers
    for p in document.pointers:
        assert p.words in titles, p
    for where, text in texts_of(document):
        assert not re.search("[\ue000-\uf8ff]", text), (where, "an unresolved mark", text)
        assert not OLD.search(text), (where, text)


@pytest.mark.parametrize("name", STUDIES)
def test_pointers_in_plain_words_lead_somewhere(name: str) -> None:
    document = document_of(name)
    keys = keys_of(document)
    for where, text in texts_of(document):
        for pattern, targets in PROSE.items():
            if re.search(pattern, text):
                assert targets & keys, (where, text, targets)


@pytest.mark.parametrize("name", STUDIES)
def test_on_the_page_each_link_has_its_anchor_and_each_data_file_its_part(name: str) -> None:
    document = document_of(name)
    page = page_html(document)
    ids = set(re.findall(r'\sid="([^"]+)"', page))
    for target in re.findall(r'href="#([^"]+)"', page):
        assert target in ids, target
    for p in document.pointers:
        assert p.anchor in ids, p
        assert f'<a href="#{p.anchor}">' in page, p
    files = set(re.findall(r"(?:tables|figures)/[a-z0-9_-]+\.csv", page))
    have = {f"tables/{t.key}.csv" for t in find_tables(document)}
    have |= {f"figures/{f.key}.csv" for f in find_figures(document)}
    assert files == have


def test_no_demo_points_to_an_outer_band_that_it_does_not_show() -> None:
    for name in DEMOS:
        document = document_of(name)
        assert "outer-band" not in keys_of(document)
        assert not [t for _, t in texts_of(document) if "outer band" in t and "Sensitivity" in t]


def test_a_pointer_without_target_says_something_else() -> None:
    text = "Looked at in " + point("here", "not-here", otherwise="no part") + "."
    rows = (("a", point("table-1", otherwise="nowhere")), ("b", point("gone", otherwise="nowhere")))
    table = Table(key="table-1", title="A table", columns=(), rows=rows)
    section = Section(key="here", title="Here", blocks=(Statement(text=text), table))
    base = document_of(DEMOS[0])
    import dataclasses

    out = resolve(dataclasses.replace(base, sections=(section,), summaries=(), first_figure=None))
    said, shown = out.sections[0].blocks
    assert isinstance(said, Statement)
    assert isinstance(shown, Table)
    assert said.text == "Looked at in “Here”."
    assert [r[1] for r in shown.rows] == ["“A table”", "nowhere"]
    assert {p.anchor for p in out.pointers} == {"here", "table-table-1"}
    assert not any(isinstance(b, Figure) for b in out.sections[0].blocks)


@pytest.mark.parametrize("name", STUDIES)
def test_each_block_stands_once_in_the_body_or_in_an_annex(name: str) -> None:
    """Nothing is lost by the parting, nothing stands twice, and reading order holds it all."""
    document = document_of(name)
    body, annexes = body_of(document), annexes_of(document)
    assert [a.letter for a in annexes] == list("ABCDEFGHI")[: len(annexes)]
    order = [list(ANNEXES).index(a.key) for a in annexes]
    assert order == sorted(order)
    assert annexes[-1].key == "terms"
    shown = [b for p in body for b in p.section.blocks]
    shown += [b for a in annexes for s in a.sections for b in s.blocks]
    whole = [b for s in document.sections for b in s.blocks]
    assert sorted(map(id, shown)) == sorted(map(id, whole))
    read = [b for s in in_order(document) for b in s.blocks]
    assert len(read) == sum(len(s.blocks) for s in document.parts)
    keys = [s.key for s in in_order(document)]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("name", STUDIES)
def test_each_section_of_an_annex_is_opened_from_one_part_of_the_body(name: str) -> None:
    document = document_of(name)
    led = [(o.annex.key, s.key) for p in body_of(document) for o in p.onward for s in o.sections]
    assert sorted(led) == sorted((a.key, s.key) for a in annexes_of(document) for s in a.sections)
    assert all(p.onward or p.section.annex == "" for p in body_of(document))


def test_the_body_of_the_page_links_to_each_section_of_its_annexes() -> None:
    document = document_of("quiet-fleet")
    page = page_html(document)
    body = page[: page.index('class="part annex"')]
    for annex in annexes_of(document):
        assert f'<a href="#{annex.anchor}">{annex.head}</a>' in body, "in the contents"
        for s in annex.sections:
            assert f'<a href="#{annex.anchor}">More in {annex.head}</a>: ' in body
            assert f'<a href="#{s.key}">{set_text(s.title)}</a>' in body


@pytest.mark.parametrize("name", DEMOS)
def test_a_pointer_into_an_annex_says_which(name: str) -> None:
    document = document_of(name)
    letters = {s.key: a.name for a in annexes_of(document) for s in a.sections}
    pointers = dict(find_targets(document))
    alone = [s for s in document.sections if s.annex and not s.kept]
    assert alone
    for s in alone:
        assert pointers[s.key].words == f"“{s.title}” ({letters[s.key]})"
    for part in body_of(document):
        assert pointers[part.section.key].words == f"“{part.section.title}”"


def test_what_a_chapter_keeps_in_the_body_is_there_in_some_report() -> None:
    """A key that no report has would send a table to its annex without a word."""
    there = set()
    for name in STUDIES:
        for part in body_of(document_of(name)):
            for b in part.section.blocks:
                if isinstance(b, Table | Figure):
                    there.add(f"{'table' if isinstance(b, Table) else 'fig'}-{b.key}")
    for chapter in CHAPTERS.values():
        assert not chapter.annex or chapter.annex in ANNEXES, chapter.key
        assert not chapter.keeps or chapter.annex, chapter.key
        for kept in chapter.keeps:
            assert kept in {"said", "first", *TONES} | there, (chapter.key, kept)


def test_a_report_without_annexes_is_all_body() -> None:
    """Comparisons and portfolios name none; their terms stand at the end, under their own head."""
    base = document_of(DEMOS[0])
    import dataclasses

    plain = dataclasses.replace(
        base, sections=tuple(dataclasses.replace(s, annex="", kept=()) for s in base.sections)
    )
    assert annexes_of(plain) == ()
    assert [p.section for p in body_of(plain)] == list(plain.sections)
    page = page_html(plain)
    assert 'id="terms"' in page
    assert 'class="part annex"' not in page
