"""One row of a fleet's records, read and converted: the life of one engine, or a part of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import field

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.ids import normalise_id

EXAMPLE_ENGINE = "EXAMPLE"
"""Engine id of a template's example row, which is never counted."""

Line = tuple[str, str, int]
"""A line of the records: file, sheet and row."""


@value
class LifeRow(Value):
    """One engine under observation from `entry_h` to `exit_h`, as the records tell it.

    Parameters
    ----------
    origin : Origin
        Where the row stands; for a log, the event that ended or last touched the life.
    rows : tuple of int
        Every line of the file that the life was made from; one line for shape "lives".
    elsewhere : tuple of Origin
        Lines of other files that the life was made from too, where one log goes over several.
    log_file : str
        The first file of a log that tells of the engine in several, or the pattern that means the
        files of one table; else empty.
    engine : str
        The engine as written. `engine_id` is the form in which engines are compared.
    entry_h, exit_h : float
        Hours on the study's standard clock and life basis: when observation began and ended.
    exit_low_h : float or None
        The lowest hours at which it may have ended, where words told them with a doubt; `exit_h`
        is then the highest. None where the hours at exit are one number.
    exit_high_h : float or None
        The highest hours that words leave open where `exit_h` is the lowest, which is what counts
        of a life that did not fail; infinite for "at least". None where the hours are one number.
    last_good_h : float or None
        Last hours at which the engine was known good, on the same clock and basis.
    life_start_h : float
        Hours since new at which this life's clock began: 0 for lives since new, the hours of the
        overhaul for lives since overhaul.
    life : int
        0 for the life since new, 1 after the first overhaul and so on; -1 when not known.
    ending : str
        A word of `ENDINGS`.
    confirmed : bool or None
        Whether the fault was confirmed in the shop; None when not said.
    meter : str
        The meter kind that the hours were read from, before conversion.
    in_service, observed_from, last_reading, ended : date or None
        Calendar dates where given: when the life began, when observation began, of the last
        reading, of the end.
    coarse : dict
        For a date that was told as a span of days, by our names: its first and its last day; the
        date itself is a day between.
    found_at_teardown : bool or None
        Whether a teardown at the end of the life found a fault; None when there was no teardown.
    modified_h : float or None
        Hours at which the engine became another build within this life; the spells are cut there.
    build_after : str
        The build that it became.
    count : int
        How many equal engines the row stands for.
    carried_h : float
        Hours at the end of the life that no reading shows: assumed from the last one on.
    clock_doubt : float or None
        Log standard deviation by which the engine's hours may be wrong; None where not said.
    entry_told : bool
        Whether the source itself tells the hours of entry; a blank cell counts as 0 and tells none.
    extra : dict
        Numeric covariates by column name.
    categories : dict
        By column of words: hours on the life's clock, rising, and the word that holds from there
        (`records.told_values`).
    parts : dict
        Component serials by component name.
    """

    origin: Origin
    engine: str
    exit_h: float
    ending: str
    rows: tuple[int, ...] = ()
    elsewhere: tuple[Origin, ...] = ()
    log_file: str = ""
    source: str = ""
    build: str = ""
    entry_h: float = 0.0
    exit_low_h: float | None = None
    exit_high_h: float | None = None
    last_good_h: float | None = None
    life_start_h: float = 0.0
    life: int = 0
    cause: str = ""
    confirmed: bool | None = None
    meter: str = ""
    in_service: dt.date | None = None
    observed_from: dt.date | None = None
    last_reading: dt.date | None = None
    ended: dt.date | None = None
    coarse: dict[str, tuple[dt.date, dt.date]] = field(default_factory=dict)
    found_at_teardown: bool | None = None
    note: str = ""
    modified_h: float | None = None
    build_after: str = ""
    count: int = 1
    carried_h: float = 0.0
    clock_doubt: float | None = None
    entry_told: bool = False
    extra: dict[str, float] = field(default_factory=dict)
    categories: dict[str, tuple[tuple[float, str], ...]] = field(default_factory=dict)
    parts: dict[str, str] = field(default_factory=dict)
    engine_id: str = field(init=False, default="")

    def __post_init__(self) -> None:
        # Kept, since every comparison of lives asks for it.
        object.__setattr__(self, "engine_id", normalise_id(self.engine))

    @property
    def lines(self) -> tuple[Line, ...]:
        """Return every line that the life was made from, in whichever file."""
        at = self.origin
        file, sheet = at.file, at.sheet
        here = tuple([(file, sheet, n) for n in self.rows])
        if not self.elsewhere:
            return here
        return here + tuple((o.file, o.sheet, o.row or 0) for o in self.elsewhere)

    def days_of(self, name: str) -> tuple[dt.date, dt.date] | None:
        """Return the first and the last day that a date of ours may be; None where not told."""
        day: dt.date | None = getattr(self, name)
        if day is None:
            return None
        low, high = self.coarse.get(name, (day, day))
        return (low, high) if low <= day <= high else (day, day)

    @property
    def last_date(self) -> dt.date | None:
        """Return the latest date on which the hours at exit are known."""
        read, ended = self.last_reading, self.ended
        if read is None or ended is None:
            return ended if read is None else read
        return max(read, ended)
