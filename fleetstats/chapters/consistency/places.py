"""Every text of a finished report, each with the place where a reader meets it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fleetstats.advice.results import Results
from fleetstats.document.document import Block, Document, Figure, Statement, Table

LONGEST_READ = 30
"""Rows of a table up to which its cells of words are read; longer ones list engines or findings,
and nothing that is said of the whole stands in them."""

PROMPT = "the answer at the prompt"
FIRST = "the first page"


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A text and where it stands: `where` for a reader; `table`, `row` and `column` for a cell."""

    text: str
    where: str
    table: str = ""
    row: str = ""
    column: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of a table, its cells by the keys of their columns."""

    table: str
    where: str
    cells: dict[str, str | float | int | None]

    @property
    def name(self) -> str:
        """Return the first cell as text: what the row is about."""
        first = next(iter(self.cells.values()), "")
        return first if isinstance(first, str) else ""


def list_texts(results: Results, document: Document) -> Iterator[Text]:
    """Yield every sentence, cell of words and label: first page, prompt, sections, figures."""
    yield Text(text=document.asked, where=FIRST)
    yield Text(text=document.subtitle, where=FIRST)
    for sentence in document.answer:
        yield Text(text=sentence, where=FIRST)
    for line in results.answer_lines():
        yield Text(text=line, where=PROMPT)
    if document.first_figure is not None:
        yield from _of_block(document.first_figure, FIRST)
    for section in document.parts:
        for block in section.blocks:
            yield from _of_block(block, f"“{section.title}”")


def list_rows(document: Document) -> Iterator[Row]:
    """Yield every row of the tables of the sections, but for the longest."""
    for section in document.parts:
        for block in section.blocks:
            if not isinstance(block, Table) or len(block.rows) > LONGEST_READ:
                continue
            keys = [c.key for c in block.columns]
            for cells in block.rows:
                row = Row(
                    table=block.key,
                    where=f"“{section.title}”, table “{block.title}”",
                    cells=dict(zip(keys, cells, strict=True)),
                )
                yield row


def _of_block(block: Block, where: str) -> Iterator[Text]:
    if isinstance(block, Statement):
        yield Text(text=block.text, where=where)
    elif isinstance(block, Table):
        at = f"{where}, table “{block.title}”"
        yield Text(text=block.see, where=at)
        for cells in block.rows if len(block.rows) <= LONGEST_READ else ():
            row = cells[0] if cells and isinstance(cells[0], str) else ""
            for column, cell in zip(block.columns, cells, strict=True):
                if isinstance(cell, str):
                    yield Text(text=cell, where=f"{at}, row “{row}”" if row else at,
                               table=block.key, row=row, column=column.key)  # fmt: skip
    elif isinstance(block, Figure):
        at = f"{where}, figure “{block.title}”"
        for text in (block.see, block.alt):
            yield Text(text=text, where=at)
        for panel in block.panels:
            for layer in panel.layers:
                if layer.label:
                    yield Text(text=layer.label, where=at)
