"""A guess and what it stands in: of one sheet, and of all the files of a study to be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import field, replace
from pathlib import Path
from typing import Final

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.fold import fold

SURE: Final = "sure"
LIKELY: Final = "likely"
OPEN: Final = "open"
"""A guess that stands is sure or likely; one that is open is for a person to fill in."""


@value
class Guess(Value):
    """One thing guessed of raw records.

    Parameters
    ----------
    what : str
        What is guessed: one of our column names, a word as written, or a setting.
    value : str
        The guess: a header, a word of ours, a setting's value; empty where there is none.
    reason : str
        Why.
    sure : str
        ``"sure"``, ``"likely"``, or ``"open"``: not used until a person says so.
    alternatives : tuple of str
        What it may be besides, the most likely first.
    n_rows : int
        Rows that it concerns.
    rows : tuple of int
        The first of them, as a spreadsheet numbers them.
    effect : str
        What it does to the counts, or what is lacking until it is filled in.
    samples : tuple of str
        Some of the cells.
    known : bool
        Whether the reader takes it so by itself, so that nothing needs to be stated.
    """

    what: str
    value: str
    reason: str
    sure: str
    alternatives: tuple[str, ...] = ()
    n_rows: int = 0
    rows: tuple[int, ...] = ()
    effect: str = ""
    samples: tuple[str, ...] = ()
    known: bool = False

    @property
    def stands(self) -> bool:
        """Return whether the guess is used as it is."""
        return self.sure != OPEN


@value
class Given(Value):
    """What is known of a sheet before it is guessed: by a study file, or by a person.

    Parameters
    ----------
    header_row : int
        Line of the column names, as a spreadsheet numbers lines; 0 where it is to be found.
    shape : str
        What a row stands for; empty where it is to be found.
    columns : dict
        Column of ours = the sheet's own header.
    """

    header_row: int = 0
    shape: str = ""
    columns: dict[str, str] = field(default_factory=dict)


@value
class GuessedCounts(Value):
    """What the guesses that stand make of a sheet's rows.

    `by_word` counts rows by ending or event of ours; `n_open` are rows whose word is open, and
    `n_blank` rows without a word.
    """

    n_rows: int
    n_engines: int
    by_word: dict[str, int]
    n_open: int = 0
    n_blank: int = 0


@value
class GuessedSheet(Value):
    """One sheet, or text file, that holds records.

    Parameters
    ----------
    file, sheet : str
        Name of the file within the study, and of the sheet.
    header_row : int
        Line of the column names; `header_stated` where the study file must say it.
    shape : Guess
        One of the shapes of record files.
    columns : tuple of Guess
        Our names with the file's headers.
    settings : tuple of Guess
        Keys of ``[[records]]``: source, meter, decimal, date_order.
    endings, kinds, causes : tuple of Guess
        Words as written with words of ours.
    treat : tuple of Guess
        What is to be done about findings that the sheet will give.
    unused : tuple of Guess
        Headers that nothing is made of, with what they seem to hold.
    renews : tuple of Guess
        Repairs of a history, each open: what it renewed.
    counts : GuessedCounts
        What this makes of the rows.
    """

    file: str
    sheet: str
    header_row: int
    header_stated: bool
    header_reason: str
    shape: Guess
    columns: tuple[Guess, ...]
    settings: tuple[Guess, ...]
    endings: tuple[Guess, ...]
    kinds: tuple[Guess, ...]
    causes: tuple[Guess, ...]
    treat: tuple[Guess, ...]
    unused: tuple[Guess, ...]
    counts: GuessedCounts
    renews: tuple[Guess, ...] = ()

    @property
    def place(self) -> str:
        """Return the file with its sheet."""
        return f"{self.file} [{self.sheet}]" if self.sheet else self.file

    @property
    def guesses(self) -> Iterator[Guess]:
        """Yield every guess of the sheet."""
        yield self.shape
        for part in (self.columns, self.settings, self.endings, self.kinds, self.causes):
            yield from part
        yield from self.renews
        yield from self.treat
        yield from (g for g in self.unused if not g.stands)

    def with_words(self, stated: Mapping[str, str]) -> GuessedSheet:
        """Return the sheet with words of endings or events that somebody gave a meaning.

        Parameters
        ----------
        stated : mapping
            Words as written, however spelt, with words of ours; others are passed over.
        """
        meant = {fold(w): ours for w, ours in stated.items()}
        out = self
        for g in (*self.endings, *self.kinds):
            ours = meant.get(fold(g.what), "")
            if ours and ours != g.value:
                told = replace(g, value=ours, sure=SURE, known=False)
                counts = out.if_meant(g.what, ours)
                endings, kinds = (
                    tuple(told if x.what == g.what else x for x in part)
                    for part in (out.endings, out.kinds)
                )
                out = replace(out, endings=endings, kinds=kinds, counts=counts)
        return out

    def if_meant(self, word: str, ours: str) -> GuessedCounts:
        """Return the counts if a word of the endings or events meant another word of ours.

        Parameters
        ----------
        word : str
            As it stands in ``what`` of one of `endings` or `kinds`.
        ours : str
            The word of ours; empty leaves it open.

        Raises
        ------
        KeyError
            If no such word was found.
        """
        by_what = {g.what: g for g in (*self.endings, *self.kinds)}
        g, c = by_what[word], self.counts
        rows = dict(c.by_word)
        if g.stands:
            rows[g.value] = rows.get(g.value, 0) - g.n_rows
        if ours:
            rows[ours] = rows.get(ours, 0) + g.n_rows
        more = (0 if ours else g.n_rows) - (0 if g.stands else g.n_rows)
        kept = {w: n for w, n in rows.items() if n}
        return replace(c, by_word=kept, n_open=c.n_open + more)


@value
class PassedSheet(Value):
    """A sheet that holds no records, and why that is thought."""

    file: str
    sheet: str
    reason: str

    @property
    def place(self) -> str:
        """Return the file with its sheet."""
        return f"{self.file} [{self.sheet}]" if self.sheet else self.file


@value
class GuessedStudy(Value):
    """What some raw files most likely mean.

    Parameters
    ----------
    sheets : tuple of GuessedSheet
        Those that hold records.
    passed : tuple of PassedSheet
        Those that do not.
    settings : tuple of Guess
        Settings of the study, ``what`` being ``table.key``.
    paths : dict
        Name of each file within the study, with where it was read.
    """

    sheets: tuple[GuessedSheet, ...]
    passed: tuple[PassedSheet, ...]
    settings: tuple[Guess, ...]
    paths: dict[str, Path]

    _not_in_dict = ("paths",)

    @property
    def open_guesses(self) -> tuple[tuple[str, Guess], ...]:
        """Return what a person has to fill in, each with the place that it belongs to."""
        own = [("", g) for g in self.settings if not g.stands]
        return (*own, *((s.place, g) for s in self.sheets for g in s.guesses if not g.stands))

    @property
    def lines(self) -> tuple[str, ...]:
        """Return what was guessed, one thing to a line."""
        out = []
        for s in self.sheets:
            c = s.counts
            words = ", ".join(f"{n} {w}" for w, n in c.by_word.items())
            out.append(
                f"{s.place}: {s.shape.value}, {c.n_rows} rows of {c.n_engines} engines"
                f"{f'; {words}' if words else ''}"
                f"{f'; {c.n_open} with a word left open' if c.n_open else ''}"
                f"{f'; {c.n_blank} without a word' if c.n_blank else ''}."
            )
        out += [f"{p.place}: no records. {p.reason}" for p in self.passed]
        every = [*self.settings, *(g for s in self.sheets for g in s.guesses)]
        counts = {k: sum(g.sure == k for g in every) for k in (SURE, LIKELY, OPEN)}
        out.append(
            f"{len(every)} guesses: {counts[SURE]} sure, {counts[LIKELY]} likely, "
            f"{counts[OPEN]} left open for you."
        )
        return tuple(out)

    def __repr__(self) -> str:
        return "\n".join(self.lines)
