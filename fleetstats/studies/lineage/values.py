"""What a printed figure rests on, as values."""

from __future__ import annotations

from dataclasses import field
from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.studies.lineage.every_life import EveryLife


@value
class SettingUsed(Value):
    """A setting that some figure's computation read: what holds, and whether the study set it."""

    key: str
    value: Any
    default: Any
    chosen: bool


@value
class Figured(Value):
    """One printed figure with all that it rests on.

    Parameters
    ----------
    key : str
        Its name, and its anchor on the page.
    name : str
        The words for it.
    printed : tuple of str
        How reports print it, the usual form first.
    value : float, str or None
        In full; hours, shares in 0 to 1, counts.
    unit : str
        h, share, count, number, word or date.
    low, high, level : float or None
        Its interval at two-sided confidence `level`, where it has one.
    rule : str
        How it comes about, and where the formula is from.
    settings : tuple of str
        Keys that its computation read, as noted while it ran.
    figures : tuple of str
        Keys of other figures that it is made from.
    chapters : tuple of str
        Other parts of the results that it is made from; what these read is not noted here.
    of : str
        Which lives it rests on, in words; blank where it rests on none.
    lives : tuple of int
        Their numbers in the table of all lives, rising.
    every : bool
        Whether these are all lives that are counted.
    rows : tuple of (str, int)
        Rows that it rests on which are in no life: file and number.
    made_again : bool
        Whether its computation, run again as it was noted, gave the very value printed.
    """

    key: str
    name: str
    printed: tuple[str, ...]
    value: float | str | None
    unit: str
    low: float | None = None
    high: float | None = None
    level: float | None = None
    rule: str = ""
    settings: tuple[str, ...] = ()
    figures: tuple[str, ...] = ()
    chapters: tuple[str, ...] = ()
    of: str = ""
    lives: tuple[int, ...] = ()
    every: bool = False
    rows: tuple[tuple[str, int], ...] = ()
    made_again: bool = True


@value
class Lineage(Value):
    """The printed figures of a decision, each traced to settings, other figures and lives.

    Parameters
    ----------
    figures : tuple of Figured
        In the order in which they are read.
    lives : EveryLife or None
        The table of all lives; None where the records were read by chunks.
    no_lives : str
        Why there is no such table; blank where there is one.
    settings : tuple of SettingUsed
        Every setting that some figure or the table of lives read.
    settings_of_lives : tuple of str
        Keys that were read on the way from the files to the lives; every figure that rests on lives
        rests on these too.
    """

    figures: tuple[Figured, ...]
    lives: EveryLife | None
    no_lives: str = ""
    settings: tuple[SettingUsed, ...] = ()
    settings_of_lives: tuple[str, ...] = ()
    report_id: str = ""
    title: str = ""
    _by_key: dict[str, Figured] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_by_key", {f.key: f for f in self.figures})

    def __getitem__(self, key: str) -> Figured:
        """Return the figure of that key."""
        return self._by_key[key]

    def __contains__(self, key: object) -> bool:
        """Return whether there is a figure of that key."""
        return key in self._by_key
