"""Studies that tests share: the shipped ones, and small made ones in which something is missing.

Each is written, read, analysed and composed once in a session. Invented records with no source.
"""

from __future__ import annotations

import functools
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.chapters.compose import compose_report
from fleetstats.document.document import Document, Explain, Figure, Section, Statement, Table
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study

DATASETS = Path(__file__).parents[1] / "datasets"
DEMOS = ("on-condition", "tow-clubs", "workshop", "quiet-fleet")

HEAD = """\
[study]
title = "{title}"
analysis_date = 2026-01-31
{claim}
[evidence]
resamples = 400
{more}
[[records]]
file = "lives.csv"
source = "club"
"""
COLUMNS = "engine,exit_hours,ending,cause,in_service_date,last_reading_date"


def _rows(failed: list[float], running: int, *, dates: bool) -> str:
    rng = np.random.default_rng(5)
    lines = [COLUMNS if dates else COLUMNS.rsplit(",", 2)[0]]
    day = ",2016-03-01,2026-01-15" if dates else ""
    lines += [f"F{i},{h:g},failed,piston{day}" for i, h in enumerate(failed)]
    ages = np.round(rng.uniform(100, 1500, running), 0)
    lines += [f"R{i},{h:g},running,{day}" for i, h in enumerate(ages)]
    return "\n".join(lines) + "\n"


def _twice(engines: int) -> str:
    """Return lives of engines that were each overhauled once: two lives since overhaul each."""
    rng = np.random.default_rng(9)
    lines = ["engine,entry_hours,exit_hours,overhauled_at_hours,ending,cause"]
    for i in range(engines):
        first, second = np.round(rng.uniform(900, 1300, 2), 0)
        lines.append(f"E{i},0,{first:g},,planned overhaul,overhaul due")
        ending = "failed,piston" if i % 9 == 0 else "running,"
        lines.append(f"E{i},{first:g},{first + second:g},{first:g},{ending}")
    return "\n".join(lines) + "\n"


CLAIM = "claimed_interval_h = 1000"
MADE = {
    "no failures": (_rows([], 90, dates=True), CLAIM, ""),
    "few failures": (_rows([410.0, 900.0], 80, dates=True), CLAIM, ""),
    "some failures": (_rows([300.0, 620.0, 700.0, 810.0, 950.0, 990.0, 1200.0], 60, dates=True),
                      CLAIM, ""),
    "no dates": (_rows([410.0, 900.0, 700.0], 80, dates=False), CLAIM, ""),
    "no claim": (_rows([410.0, 900.0], 40, dates=True), "", ""),
    "very few lives": (_rows([410.0], 5, dates=False), CLAIM, ""),
    "no groups": (_rows([410.0, 900.0], 80, dates=True), CLAIM, "[groups]\nby = []\n"),
    "two lives each": (_twice(40), CLAIM, '[hours]\nbasis = "since-overhaul"\n'),
}  # fmt: skip
STUDIES = (*DEMOS, *MADE)


@functools.cache
def results_of(name: str) -> Results:
    """Return the results of a shipped or a made study."""
    if name in DEMOS:
        return analyse(read_study(DATASETS / name))
    rows, claim, more = MADE[name]
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "lives.csv").write_text(rows, encoding="utf-8")
        text = HEAD.format(title=f"Made: {name}", claim=claim, more=more)
        (Path(folder) / "study.toml").write_text(text, encoding="utf-8")
        return analyse(read_study(Path(folder)))


@functools.cache
def document_of(name: str) -> Document:
    """Return the composed report of a study."""
    return compose_report(results_of(name))


def texts_of(document: Document) -> Iterator[tuple[str, str]]:
    """Yield where a text stands, and the text: answers, statements, captions, cells, cautions."""
    for a in document.answer:
        yield "answer", a
    for c in document.cautions:
        yield f"caution {c.code}", c.text
    if document.first_figure is not None:
        yield document.first_figure.key, document.first_figure.see
    for section in (*document.summaries, *document.sections):
        yield from _texts(section)


def _texts(section: Section) -> Iterator[tuple[str, str]]:
    for b in section.blocks:
        if isinstance(b, Statement | Explain):
            yield section.key, b.text
        elif isinstance(b, Figure):
            yield b.key, f"{b.title}. {b.see}"
        elif isinstance(b, Table):
            yield b.key, f"{b.title}. {b.see}"
            for row in b.rows:
                yield b.key, " | ".join(c for c in row if isinstance(c, str))


def table_of(document: Document, key: str) -> Table | None:
    """Return a table of a report by its key."""
    for section in (*document.summaries, *document.sections):
        for b in section.blocks:
            if isinstance(b, Table) and b.key == key:
                return b
    return None
