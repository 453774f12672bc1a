"""Results into a report: answer first, then what lets a sceptic attack it."""

from __future__ import annotations

import dataclasses

from fleetstats import __version__
from fleetstats.advice.advice import VERDICTS
from fleetstats.advice.results import Results
from fleetstats.chapters.analysis import method_words, survival_figure
from fleetstats.chapters.answer import answer_sentences, compose_beside, compose_summaries
from fleetstats.chapters.brief import compose_brief
from fleetstats.chapters.cautions import qualify
from fleetstats.chapters.chapter import Chapter
from fleetstats.chapters.consistency import check_figures
from fleetstats.chapters.data import say_left_out, say_sampled
from fleetstats.chapters.decision import advice_figure
from fleetstats.chapters.declared import declared_lines
from fleetstats.chapters.departures import chosen_lines
from fleetstats.chapters.failing import (
    by_chapter,
    fail_chapter,
    keeps_of,
    mark_section,
    name_of,
)
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.core.gate import an, gate
from fleetstats.core.units import text_hours
from fleetstats.document.annexes import split
from fleetstats.document.blocks import clock_words
from fleetstats.document.document import Document, Explain, Figure, Section
from fleetstats.document.glossary import glossary_terms
from fleetstats.document.identity import report_id
from fleetstats.document.references import resolve
from fleetstats.document.tabulated import Tabulated
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.provisos import but_open
from fleetstats.vocabulary.wording import listed

RESULTS = an(Results, "Make them by fs.analyse(study).")


@gate(results=RESULTS)
def compose_report(results: Results) -> Document:
    """Return the whole report, format-free.

    Parameters
    ----------
    results : Results
        A study's results; chapters that were not computed are left out. One that a table read by
        chunks does not have says why in its place.

    Returns
    -------
    Document
        Sections, tables and figures as plain data, for `write_report`.

    Examples
    --------
    >>> import fleetstats as fs
    >>> report = fs.compose_report(fs.analyse(fs.read_study("datasets/quiet-fleet")))
    >>> report.title
    "Ostrel T4, builder's fleet: none failed; what may be claimed?"
    """
    return _composed(results)[1]


def _composed(results: Results) -> tuple[Results, Document]:
    """Return the report, and the results with what of it could not be composed."""
    sections, failed = _sections_of(results)
    if failed:
        results = dataclasses.replace(results, troubles=(*results.troubles, *failed))
        results = qualify(results, (*failed, *results.advice.cautions))
        sections, _ = _sections_of(results)
    return results, _document(results, sections)


def _sections_of(
    results: Results,
) -> tuple[list[tuple[Chapter, Section]], list[Caution]]:
    """Return every section with its chapter, and of those that broke only now the cautions.

    A section that could not be made says so in its place.
    """
    if results.how_read.quick:  # it has a brief alone
        return [], []
    known = by_chapter(results.troubles)
    sections: list[tuple[Chapter, Section]] = []
    failed: list[Caution] = []
    for key, chapter in CHAPTERS.items():
        if "bulk" in results.chapters and not chapter.long_tables:
            left_out = say_left_out(key, capital(name_of(chapter)))
            sections += [] if left_out is None else [(chapter, left_out)]
            continue
        trouble = known.get(key)
        section: Section | None = None
        try:
            section = chapter.section(results)
            if section is not None and (told := say_sampled(key, results.chapters)):
                section = dataclasses.replace(section, blocks=(*told, *section.blocks))
        except Exception as error:
            if trouble is None:
                trouble = fail_chapter(chapter, error)
                failed.append(trouble)
        if trouble is not None:
            section = mark_section(chapter, section, trouble)
        if section is not None and section.blocks:
            sections.append((chapter, section))
    return sections, failed


def _document(results: Results, sections: list[tuple[Chapter, Section]]) -> Document:
    first = _first_figure(results)
    s = results.settings
    v = results.advice.verdict
    tabulated = results.chapters.get("tabulated")
    provisos = () if v is None else v.provisos
    beside = compose_beside(results)
    document = Document(
        title=s.study.title,
        subtitle=_subtitle(results),
        report_id=report_id(results),
        answer=answer_sentences(results),
        verdict=v.word if v is not None else results.advice.overhaul_band.state,
        first_figure=first,
        sections=tuple(
            split(section, chapter.annex, keeps_of(chapter, results.troubles))
            for (chapter, _), section in zip(
                sections, _explain_once(tuple(s for _, s in sections), first), strict=True
            )
        ),
        cautions=results.advice.cautions,
        provenance=results.provenance,
        glossary=glossary_terms(),
        summaries=compose_summaries(results),
        tabulated=_qualified(tabulated, provisos),  # type: ignore[arg-type]
        provisos=provisos if v is not None and v.word == "supported" else (),
        beside=beside,
        brief=compose_brief(results, beside),
        asked=(
            f"On the interval claimed today, {text_hours(v.claimed_h)}"
            if v is not None
            else "No interval is claimed"
        ),
        chosen=(*declared_lines(results), *chosen_lines(results)),
        cut_off=str(s.study.analysis_date or ""),
        method=f"{method_words(results.sureness.choice.method)}, fleetstats {__version__}",
    )
    return resolve(document)


def compose_checked(results: Results) -> tuple[Results, Document]:
    """Return the results and their report, checked for figures that disagree.

    What disagrees is the first of the cautions, on the first page, at the prompt and in the data.

    Parameters
    ----------
    results : Results
        As for `compose_report`.
    """
    results, document = _composed(results)
    found = check_figures(results, document)
    if not found:
        return results, document
    results = qualify(results, (*found, *results.advice.cautions))
    return results, compose_report(results)


def _qualified(tabulated: Tabulated | None, provisos: tuple[str, ...]) -> Tabulated | None:
    """Return the grid with what is open about a claim, in the word and under its knobs."""
    if tabulated is None or not provisos:
        return tabulated
    said = {VERDICTS["supported"]: VERDICTS["supported"] + but_open(provisos)}
    readings = tuple(
        dataclasses.replace(r, words=tuple(said.get(w, w) for w in r.words))
        for r in tabulated.readings
    )
    return dataclasses.replace(
        tabulated,
        readings=readings,
        note=f"{tabulated.note} Whatever is set here, it stays open that {listed(list(provisos))}.",
    )


def _first_figure(results: Results) -> Figure:
    """Return the picture of the first screen: the advice, or the curve where no band is found."""
    figure = advice_figure(results)
    if figure is None or results.advice.overhaul_band.state != "answered":
        return survival_figure(results)
    return figure


def _subtitle(results: Results) -> str:
    s = results.settings
    n = results.built.funnel.total.engines_used
    name = s.question.name
    return f"{capital(name)}, {clock_words(results)}, {n:,} engines"


def _explain_once(sections: tuple[Section, ...], first: Figure) -> tuple[Section, ...]:
    """Keep each explanation and each figure where it first stands; the first screen has one."""
    terms: set[str] = set()
    figures = {first.key}
    out = []
    for section in sections:
        blocks = []
        for b in section.blocks:
            if isinstance(b, Explain):
                if fold(b.term) in terms:
                    continue
                terms.add(fold(b.term))
            if isinstance(b, Figure):
                if b.key in figures:
                    continue
                figures.add(b.key)
            blocks.append(b)
        out.append(dataclasses.replace(section, blocks=tuple(blocks)))
    return tuple(out)
