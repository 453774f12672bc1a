"""Signs in the records that ask for a second look, as values."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.caution import Caution

SIGNS = {
    "last-digits": "Last digits used unevenly",
    "use-impossible": "More use than one engine usually sees, or than the calendar holds",
    "use-alike": "Several engines with one and the same rate of use",
    "ends-one-day": "Many engines ended on one day",
    "read-one-day": "Most engines of a source read on one day",
    "standing-still": "Hours that stand still while the engine is said to run",
    "not-read": "Engines said to run that were not read for long",
    "contradictory": "Cells of one row that contradict each other",
    "gone": "Engines that a later file of the same source does not list any more",
}
"""What is looked for, in the order of the table."""


@value
class Effect(Value):
    """What the records would show, were the rows of a sign taken otherwise.

    `failure_high` is the bound of the chance of failure by the claimed hours, `shown` whether the
    claim would be supported; both None without a claim. `hours` are those to which the target
    reliability is shown, with a claim None.
    """

    failure_high: float | None
    shown: bool | None
    hours: float | None


@value
class RecordSign(Value):
    """One sign: what was found beside what would be expected.

    Parameters
    ----------
    key : str
        A key of `SIGNS`.
    n_looked, n_found : int
        Lives (or readings, for digits) that could bear the sign, and those that do.
    unit : str
        What these are, in the singular.
    found, expected : str
        In words.
    sources : tuple of str
        Whose rows these are.
    places : tuple of str
        The first of them, by file and row.
    left_out : Effect or None
        Without these rows; None where they are not what is in doubt.
    failed : Effect or None
        With the running ones of them failed at their last hours.
    """

    key: str
    n_looked: int
    n_found: int
    unit: str
    found: str
    expected: str
    sources: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    left_out: Effect | None = None
    failed: Effect | None = None


@value
class Integrity(Value):
    """All signs that were looked for, found or not.

    `as_recorded` is what the records show as they stand.
    """

    sentence: str
    signs: tuple[RecordSign, ...]
    as_recorded: Effect
    claimed_h: float | None
    accepted_failure: float
    target: float
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return self.sentence

    __str__ = __repr__
