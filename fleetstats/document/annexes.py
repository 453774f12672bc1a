"""Body and annexes: what a reader needs to decide, and where the rest of each part stands.

A section names its annex and the blocks of it that stay in the body. Order, letters and the
references from the body to the annexes follow from that; every block stands in exactly one place.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from string import ascii_uppercase

from fleetstats.core.value import Value, value
from fleetstats.document.document import (
    Block,
    Document,
    Explain,
    Figure,
    Section,
    Statement,
    Table,
)

ANNEXES = {
    "records": "The records and their audit",
    "lives": "Lives, exposure and calendar",
    "curves": "Fits, curves and other routes",
    "groups": "Sources, builds and change over the years",
    "checks": "Causes, checks and events that come again",
    "doubts": "Doubts: what is assumed, hidden or left open",
    "ahead": "Ahead: each engine, spares, costs and what would show more",
    "settings": "Settings and provenance",
    "terms": "Terms in plain words",
}
"""Every annex by its key, in order, with its title. The last holds the glossary."""

SAID = "said"
FIRST = "first"


@value
class Annex(Value):
    """One annex with the sections, or the rest of sections, that stand in it."""

    letter: str
    key: str
    title: str
    sections: tuple[Section, ...]

    @property
    def name(self) -> str:
        """Return how texts call it."""
        return f"Annex {self.letter}"

    @property
    def head(self) -> str:
        """Return its heading."""
        return f"{self.name}: {self.title}"

    @property
    def anchor(self) -> str:
        """Return its anchor on the page."""
        return f"annex-{self.key}"


@value
class Onward(Value):
    """From a part of the body to the sections of one annex that carry it further."""

    annex: Annex
    sections: tuple[Section, ...]

    @property
    def words(self) -> str:
        """Return the words before the titles of its sections."""
        return f"More in {self.annex.head}"


@value
class BodyPart(Value):
    """What stands in the body of one section, and where it goes on."""

    section: Section
    onward: tuple[Onward, ...]


def split(section: Section, annex: str, keeps: tuple[str, ...]) -> Section:
    """Return a section placed: in the body, in an annex, or in both.

    Parameters
    ----------
    section : Section
        All of it.
    annex : str
        Key of `ANNEXES`, or "" for the body.
    keeps : tuple of str
        What stays in the body: ``"said"`` each sentence, ``"first"`` the first one, a tone its
        sentences, ``"table-KEY"`` and ``"fig-KEY"`` a table and a figure.

    Returns
    -------
    Section
        In the body alone where nothing but explanations would be left for the annex.
    """
    if not annex or not keeps:
        return dataclasses.replace(section, annex=annex)
    first = next((i for i, b in enumerate(section.blocks) if isinstance(b, Statement)), -1)
    kept = tuple(i for i, b in enumerate(section.blocks) if _stays(b, keeps, first=i == first))
    left = [b for i, b in enumerate(section.blocks) if i not in kept]
    if all(isinstance(b, Explain) for b in left):
        return section
    return dataclasses.replace(section, annex=annex, kept=kept)


def _stays(block: Block, keeps: tuple[str, ...], *, first: bool) -> bool:
    if isinstance(block, Statement):
        return SAID in keeps or block.tone in keeps or (first and FIRST in keeps)
    if isinstance(block, Table):
        return f"table-{block.key}" in keeps
    return isinstance(block, Figure) and f"fig-{block.key}" in keeps


def body_of(document: Document) -> tuple[BodyPart, ...]:
    """Return the parts of the body in order, each with the sections that carry it further.

    A section that stands in an annex alone is reached from the part of the body that belongs to
    the same annex and stands before it; where there is none, from the next such part, and where
    the body has nothing of its annex, from its first part.
    """
    shown = [s for s in document.sections if not s.annex or s.kept]
    carried: dict[str, list[str]] = {s.key: [] for s in shown}
    for i, section in enumerate(document.sections):
        if not section.annex or not shown:
            continue
        before = _shown_of(section.annex, document.sections[: i + 1])
        after = _shown_of(section.annex, document.sections[i:])
        home = before[-1] if before else after[0] if after else shown[0].key
        carried[home].append(section.key)
    annexes = annexes_of(document)
    return tuple(
        BodyPart(section=_short(s), onward=tuple(_onward(annexes, carried[s.key]))) for s in shown
    )


def _shown_of(annex: str, sections: tuple[Section, ...]) -> list[str]:
    return [s.key for s in sections if s.kept and s.annex == annex]


def _short(section: Section) -> Section:
    """Return what of a section stands in the body."""
    if not section.annex:
        return section
    return dataclasses.replace(section, blocks=tuple(section.blocks[i] for i in section.kept))


def _onward(annexes: tuple[Annex, ...], keys: list[str]) -> Iterator[Onward]:
    anchors = {a for k in keys for a in (k, _rest_key(k))}
    for annex in annexes:
        there = tuple(s for s in annex.sections if s.key in anchors)
        if there:
            yield Onward(annex=annex, sections=there)


def annexes_of(document: Document) -> tuple[Annex, ...]:
    """Return the annexes that have something in them, lettered in order.

    A report without a section in an annex has none: its terms stand at its end.
    """
    held: dict[str, list[Section]] = {key: [] for key in ANNEXES}
    for section in document.sections:
        if section.annex:
            held[section.annex].append(_rest(section))
    filled = [key for key, sections in held.items() if sections]
    if filled and _has_terms(document):
        filled.append("terms")
    return tuple(
        Annex(letter=letter, key=key, title=ANNEXES[key], sections=tuple(held[key]))
        for letter, key in zip(ascii_uppercase, filled, strict=False)
    )


def _has_terms(document: Document) -> bool:
    parts = (*document.beside, *document.summaries, *document.sections)
    return bool(document.glossary) or any(isinstance(b, Explain) for s in parts for b in s.blocks)


def _rest(section: Section) -> Section:
    """Return what of a section stands in its annex."""
    if not section.kept:
        return section
    left = tuple(b for i, b in enumerate(section.blocks) if i not in section.kept)
    return dataclasses.replace(
        section, key=_rest_key(section.key), title=f"{section.title} (more)", blocks=left, kept=()
    )


def _rest_key(key: str) -> str:
    return f"{key}-more"


def in_order(document: Document) -> Iterator[Section]:
    """Yield every part in reading order, each section as far as it stands there."""
    yield from document.beside
    yield from document.summaries
    yield from (part.section for part in body_of(document))
    for annex in annexes_of(document):
        yield from annex.sections


@value
class Place(Value):
    """Where something stands: the name of an annex, "" for the body, and the section there."""

    annex: str
    section: str


def places_of(document: Document) -> dict[str, Place]:
    """Return where each section, table and figure stands, by its anchor."""
    out: dict[str, Place] = {}
    for annex in annexes_of(document):
        for section in annex.sections:
            _note(out, annex.name, section)
    for part in body_of(document):
        _note(out, "", part.section)
    return out


def _note(out: dict[str, Place], annex: str, section: Section) -> None:
    place = Place(annex=annex, section=section.key)
    out[section.key] = place
    for b in section.blocks:
        if isinstance(b, Table | Figure):
            out[("table-" if isinstance(b, Table) else "fig-") + b.key] = place
