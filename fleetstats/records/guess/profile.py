"""What the cells of one column look like, whatever its head says."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from fleetstats.tables.cells import CellError, is_blank, parse_flag, parse_number, text
from fleetstats.vocabulary.tongues.heads import ABOUT

MOST_LOOKED_AT = 400
"""Different cells of a column that are looked at, spread evenly over it."""

MOST_OF_ALL = 30_000
"""Such cells of all the columns of a sheet together, against sheets made to take long."""

LEAST_LOOKED_AT = 30

N_SAMPLES = 3
LONGEST_WORD = 48
"""Longest text that may be a word of a list, in characters; longer ones are prose."""

_DATE = re.compile(
    r"\d{1,4}([./-])\s?\d{1,2}\1\s?\d{1,4}(?:[T ]\d\d:.*)?|\d{1,2}[./-](?:19|20)\d\d|"
    r"(?:\d{1,2}[. -]+)?[^\W\d]{3,9}\.?[ -]+(?:19|20)\d\d|[^\W\d]{3,9}\.? \d{1,2},? (?:19|20)\d\d"
)
_ABOUT = re.compile(
    rf"(?:[<>≥≤~=± ]|(?:{'|'.join(ABOUT)})[. ])*\d[\d.,'’ ]*(?: ?[-–+] ?(?:\d[\d.,]*)?)? ?"
    rf"(?:k|[^\W\d]{{1,2}}|hrs?|std|hours?|stunden|heures|horas|uren|ore)?\.?",
    re.IGNORECASE,
)
_ID = re.compile(r"(?=.*\d)[^\s]{1,20}(?: [^\s]{1,12})?")


@lru_cache(maxsize=65_536)
def kind_of_text(shown: str) -> str:
    """Return what a clean text looks like: number, date, flag, id, word or prose.

    >>> [kind_of_text(x) for x in ("812.5", "ca. 900 h", "31.12.2025", "K6-0274", "sold", "ja")]
    ['number', 'number', 'date', 'id', 'word', 'flag']
    """
    if any(c.isdigit() for c in shown):
        if len(shown) <= LONGEST_WORD and _DATE.fullmatch(shown):
            return "date"
        for decimal in (".", ","):
            if _reads(parse_number, shown, decimal):
                return "number"
        if len(shown) <= 24 and _ABOUT.fullmatch(shown):
            return "number"
        if _ID.fullmatch(shown):
            return "id"
    elif _reads(parse_flag, shown):
        return "flag"
    return "word" if len(shown) <= LONGEST_WORD else "prose"


def _reads(parse: Callable[..., object], shown: str, *more: str) -> bool:
    try:
        parse(shown, *more)
    except CellError:
        return False
    return True


def kind_of_cell(cell: Any) -> str:
    """Return what a cell that is not blank looks like."""
    if isinstance(cell, bool):
        return "flag"
    if isinstance(cell, int | float | dt.timedelta | dt.time):
        return "number"
    if isinstance(cell, dt.date):
        return "date"
    return kind_of_text(text(cell))


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """The cells of one column.

    Parameters
    ----------
    at : int
        Its place.
    head, above : str
        Its head, and what stands over the head where a cell spans several columns.
    n_rows, n : int
        Rows of the sheet, and cells that are not blank.
    texts : Counter
        Each different text as shown, with how often it stands there.
    share : dict
        Share of the cells (of those not blank) of each kind.
    low, high : float
        Least and most of plain numbers; NaN where there is none.
    whole : bool
        Whether every plain number is whole.
    """

    at: int
    head: str
    above: str
    n_rows: int
    n: int
    texts: Counter[str]
    share: dict[str, float]
    low: float
    high: float
    whole: bool

    @property
    def filled(self) -> float:
        """Return the share of rows that have a cell here."""
        return self.n / self.n_rows if self.n_rows else 0.0

    @property
    def distinct(self) -> float:
        """Return the number of different texts per cell."""
        return len(self.texts) / self.n if self.n else 0.0

    @property
    def samples(self) -> tuple[str, ...]:
        """Return some of the texts, the first ones."""
        return tuple(t[:40] for t in list(self.texts)[:N_SAMPLES])


def profile(at: int, head: str, above: str, cells: Iterable[Any], *, n_columns: int = 1) -> Profile:
    """Look at a column's cells; the more columns the sheet has, the fewer cells of each."""
    most = min(MOST_LOOKED_AT, max(LEAST_LOOKED_AT, MOST_OF_ALL // n_columns))
    n_rows = 0
    counted: Counter[Any] = Counter()
    for c in cells:
        n_rows += 1
        if c is not None:
            counted[c if type(c) is str else (type(c), c)] += 1
    texts: Counter[str] = Counter()
    told: list[tuple[Any, int]] = []
    for k, n in counted.items():
        cell = k if type(k) is str else k[1]
        if not is_blank(cell):
            texts[text(cell)] += n
            told.append((cell, n))
    step = max(1, len(told) // most)
    looked = told[::step]
    kinds: Counter[str] = Counter()
    numbers = []
    for cell, n in looked:
        kind = kind_of_cell(cell)
        kinds[kind] += n
        if kind == "number" and isinstance(cell, int | float | str):
            try:
                numbers.append(parse_number(cell, "mixed") or 0.0)
            except CellError:
                continue
    total = sum(kinds.values())
    return Profile(
        at=at,
        head=head,
        above=above,
        n_rows=n_rows,
        n=sum(texts.values()),
        texts=texts,
        share={k: n / total for k, n in kinds.items()},
        low=min(numbers, default=float("nan")),
        high=max(numbers, default=float("nan")),
        whole=all(x == int(x) for x in numbers if abs(x) < 1e15),
    )
