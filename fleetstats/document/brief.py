"""The brief: two pages to read and sign, before they have a format.

It is composed once; its own PDF, the first pages of the report, the first screens of the page, the
page for e-mail and the JSON are renderings of it. What does not fit is cut by the rule of
`fleetstats.chapters.brief.cut`, which says how much is left and where it stands.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator

from fleetstats.core.value import Value, value

DIGEST_OF = "results.json"
"""The file whose digest the brief carries: it holds every figure of the report."""


@value
class BriefPart(Value):
    """A headed part of the brief.

    Parameters
    ----------
    key, title : str
        Its stable name, and its heading.
    lines : tuple of str
        Sentences, each a paragraph or an item of a list.
    head : tuple of str
        Heads of the columns of `rows`; empty where the first cell of each row names it.
    rows : tuple of tuple of str
        A small table, as text.
    numbers : tuple of bool
        Which columns hold numbers; as long as `head`.
    more : str
        How much was cut and where it stands; blank where all is here.
    listed : bool
        Whether `lines` are items of a list.
    tables : tuple of str
        Keys of the tables whose data files hold this part.
    """

    key: str
    title: str
    lines: tuple[str, ...] = ()
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    numbers: tuple[bool, ...] = ()
    more: str = ""
    listed: bool = False
    tables: tuple[str, ...] = ()


@value
class Brief(Value):
    """Two pages to read and sign.

    Parameters
    ----------
    question : str
        What was asked, in one sentence.
    answer : tuple of str
        The verdict and the overhaul band, a sentence each.
    accepted : str
        The chance that is accepted, and who chose it.
    parts : tuple of BriefPart
        In the order in which they are read.
    notice : tuple of str
        What the brief is not, and what comes first.
    box : tuple of str
        Names of the blanks that the person who is competent fills in.
    carried : tuple of str
        Keys of the sections of `Document.beside` that stand whole in it.
    digest : str
        SHA-256 of `DIGEST_OF`; blank until the files of a report are made.
    """

    question: str
    answer: tuple[str, ...]
    accepted: str
    parts: tuple[BriefPart, ...]
    notice: tuple[str, ...]
    box: tuple[str, ...]
    carried: tuple[str, ...] = ()
    digest: str = ""

    def part(self, key: str) -> BriefPart | None:
        """Return a part by its key; None where the brief has none of it."""
        return next((p for p in self.parts if p.key == key), None)


def brief_texts(brief: Brief) -> Iterator[str]:
    """Yield every text of a brief in reading order."""
    yield brief.question
    yield from brief.answer
    if brief.accepted:
        yield brief.accepted
    for p in brief.parts:
        yield p.title
        yield from p.lines
        yield from p.head
        for row in p.rows:
            yield from row
        if p.more:
            yield p.more
    yield from brief.notice
    yield from brief.box


def map_texts(brief: Brief, text: Callable[[str], str]) -> Brief:
    """Return a brief with every sentence and cell passed through a function."""
    return dataclasses.replace(
        brief,
        question=text(brief.question),
        answer=tuple(text(a) for a in brief.answer),
        accepted=text(brief.accepted),
        parts=tuple(
            dataclasses.replace(
                p,
                lines=tuple(text(x) for x in p.lines),
                rows=tuple(tuple(text(c) for c in row) for row in p.rows),
                more=text(p.more),
            )
            for p in brief.parts
        ),
    )


def say_digest(brief: Brief) -> str:
    """Say which digest stands beside the signature; blank where no files were made."""
    if not brief.digest:
        return ""
    return (
        f"SHA-256 of {DIGEST_OF}, the file that holds every figure of the report: {brief.digest}. "
        "“fleetstats verify” prints it too."
    )
