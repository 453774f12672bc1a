"""Every exception that the package raises.

Each carries a `message` and a `hint`, both complete sentences: where and what, then what would
help. Only the command line turns them into text and an exit code.
"""

from __future__ import annotations

from collections.abc import Sequence


class FleetstatsError(Exception):
    """Root of all errors raised on purpose.

    Parameters
    ----------
    message : str
        What is wrong and where, with the value quoted.
    hint : str
        What would be right or would help.

    Examples
    --------
    >>> import fleetstats as fs
    >>> try:
    ...     fs.fit_weibull(fs.Spells.of(0, [400, 650], False))
    ... except fs.FleetstatsError as e:
    ...     print(type(e).__name__, "-", e.hint)
    NoMaximum - Bounds for assumed shapes can still be given.
    """

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message if not hint else f"{message} {hint}")
        self.message = message
        self.hint = hint


class SettingError(FleetstatsError, ValueError):
    """The study file or an option asks for something that cannot be.

    Attributes
    ----------
    problems : tuple of str
        Each thing wrong as one sentence that opens with the key's path; empty for a single one.

    Examples
    --------
    >>> import fleetstats as fs
    >>> try:
    ...     fs.make_settings(targets={"reliability": 95})
    ... except fs.SettingError as e:
    ...     print(e.problems[0])
    targets.reliability = 95: must be above 0 and below 1. Perhaps 0.95, which is 95 %.
    """

    def __init__(self, message: str, hint: str = "", *, problems: tuple[str, ...] = ()) -> None:
        super().__init__(message, hint)
        self.problems = problems


class ArgumentError(FleetstatsError, ValueError):
    """An argument of a function has a value that cannot be meant.

    Examples
    --------
    >>> import fleetstats as fs
    >>> try:
    ...     fs.success_run(90, 0.95)
    ... except fs.ArgumentError as e:
    ...     print(e.message)
    reliability = 90.
    """


class ArgumentTypeError(ArgumentError, TypeError):
    """An argument of a function is of a kind that cannot be read as what it stands for."""


class DataError(FleetstatsError, ValueError):
    """The input cannot mean what it says.

    Examples
    --------
    >>> import fleetstats as fs
    >>> try:
    ...     fs.Spells.of(500, 400, True)
    ... except fs.DataError as e:
    ...     print(e.message)
    Spell 1 of unit 'u1': exit_upper is 400.0.
    """


class ReadError(DataError):
    """A file, sheet, encoding or column that cannot be read."""


class RecordError(DataError):
    """One line that is impossible: its hours, date or kind."""


class SpellError(DataError):
    """Lives that contradict themselves.

    Attributes
    ----------
    index : int or None
        Which life of those given it is, from 0; None where it is none of them alone.

    Examples
    --------
    >>> import fleetstats as fs
    >>> try:
    ...     fs.Spells.of(0, [400, 650], [1, 2])
    ... except fs.SpellError as e:
    ...     print(e.message)
    failed[1] = 2.
    """

    def __init__(self, message: str, hint: str = "", *, index: int | None = None) -> None:
        super().__init__(message, hint)
        self.index = index

    def at(self, places: Sequence[object]) -> SpellError:
        """Return the error with the place in the records, of those of each life, named first."""
        if self.index is None or not str(places[self.index]):
            return self
        return SpellError(f"{places[self.index]}: {self.message}", self.hint, index=self.index)


class FitError(FleetstatsError):
    """The numbers asked for cannot be had from these data.

    Examples
    --------
    >>> import fleetstats as fs
    >>> try:
    ...     fs.fit_stress_life(fs.StressRuns.of([], [], []))
    ... except fs.FitError as e:
    ...     print(e.message)
    Parts failed at 0 stresses only.
    """


class NoMaximum(FitError):
    """The likelihood has no maximum inside the parameter space.

    Attributes
    ----------
    reason : str
        One of ``"no-failures"``, ``"one-failure-at-oldest-age"``, ``"all-failures-at-one-age"``,
        ``"shape-falls-to-zero"``, ``"shape-grows-without-limit"``, ``"shape-not-identified"``,
        ``"scale-not-identified"``, ``"nothing-survived"``, ``"no-maximum"``.

    Examples
    --------
    >>> import fleetstats as fs
    >>> try:
    ...     fs.fit_weibull(fs.Spells.of(0, [400, 650], False))
    ... except fs.NoMaximum as e:
    ...     print(e.reason)
    no-failures
    """

    def __init__(self, message: str, hint: str = "", *, reason: str = "no-maximum") -> None:
        super().__init__(message, hint)
        self.reason = reason


class NotConverged(FitError):
    """An iteration stopped before its tolerance was met."""


class BandError(FleetstatsError):
    """A band was asked for that the likelihood cannot give.

    Examples
    --------
    >>> import fleetstats as fs
    >>> none_failed = fs.Spells.of(0, [400, 650], False)
    >>> try:
    ...     fs.fit_posterior(none_failed, fs.ShapePrior(median=2.0))
    ... except fs.BandError as e:
    ...     print(e.hint)
    State a prior on life, or use method 'shape-mixture'.
    """


class ReportError(FleetstatsError):
    """A report asks for what its results do not hold, or cannot be written."""
