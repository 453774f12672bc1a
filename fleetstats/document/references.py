"""Pointers from one part of a report to another: made only where their target is in the report.

A composer does not know which other parts a report will have. It writes a pointer with `point`;
once all parts stand, `resolve` turns each into the titles of those targets that exist, or into what
to say instead. What it made is kept as `Pointer`, so that a page can link it and a test can check
that each leads to its heading.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from fleetstats.document.annexes import Place, places_of
from fleetstats.document.brief import map_texts
from fleetstats.document.document import (
    Document,
    Explain,
    Figure,
    Pointer,
    Section,
    Statement,
    Table,
)
from fleetstats.vocabulary.wording import listed

_OPEN, _BETWEEN, _CLOSE = "\ue000", "\ue001", "\ue002"
_MARK = re.compile(f"{_OPEN}([a-z0-9 _-]*){_BETWEEN}([^{_CLOSE}]*){_CLOSE}")


def point(*keys: str, otherwise: str) -> str:
    """Return a pointer to put into a text of a report.

    Parameters
    ----------
    *keys : str
        Keys of sections, tables or figures. Those that the report has are named by their titles.
    otherwise : str
        What stands there if it has none of them.
    """
    return f"{_OPEN}{' '.join(keys)}{_BETWEEN}{otherwise}{_CLOSE}"


def resolve(document: Document) -> Document:
    """Return a document whose pointers name what is there; `pointers` lists them."""
    targets = dict(find_targets(document))
    made: dict[str, Pointer] = {}

    def name(match: re.Match[str]) -> str:
        found = [targets[k] for k in match[1].split() if k in targets]
        for p in found:
            made[p.words] = p
        return listed([p.words for p in found]) or match[2]

    def text(s: str) -> str:
        return _MARK.sub(name, s) if _OPEN in s else s

    sections = tuple(_section(s, text) for s in document.sections)
    summaries = tuple(_section(s, text) for s in document.summaries)
    beside = tuple(_section(s, text) for s in document.beside)
    return dataclasses.replace(
        document,
        sections=sections,
        summaries=summaries,
        beside=beside,
        chosen=tuple(text(line) for line in document.chosen),
        brief=None if document.brief is None else map_texts(document.brief, text),
        pointers=tuple(made.values()),
    )


def find_targets(document: Document) -> Iterator[tuple[str, Pointer]]:
    """Yield key and pointer of all that a document can point to: sections, tables, figures."""
    places = places_of(document)
    for section in document.sections:
        for block in section.blocks:
            if isinstance(block, Table | Figure):
                yield block.key, _to(block, places)
    if document.first_figure is not None:
        yield document.first_figure.key, _to(document.first_figure, places)
    for section in document.sections:  # last: of a key that both have, the section is meant
        yield section.key, _to(section, places)


def _to(target: Section | Table | Figure, places: Mapping[str, Place]) -> Pointer:
    """Return a pointer by the title, and by the name of the annex in which its target stands."""
    prefix = {Table: "table-", Figure: "fig-"}.get(type(target), "")
    anchor = f"{prefix}{target.key}"
    place = places.get(anchor)
    annex = f" ({place.annex})" if place and place.annex else ""
    return Pointer(words=f"“{target.title}”{annex}", key=target.key, anchor=anchor)


def _section(section: Section, text: Callable[[str], str]) -> Section:
    return dataclasses.replace(section, blocks=tuple(_block(b, text) for b in section.blocks))


def _block(block: Any, text: Callable[[str], str]) -> Any:
    if isinstance(block, Statement | Explain):
        return dataclasses.replace(block, text=text(block.text))
    if isinstance(block, Figure):
        return dataclasses.replace(block, see=text(block.see))
    rows = tuple(tuple(text(c) if isinstance(c, str) else c for c in row) for row in block.rows)
    return dataclasses.replace(block, see=text(block.see), rows=rows)
