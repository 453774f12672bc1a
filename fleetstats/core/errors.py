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
    """

    def __init__(self, message: str, hint: str = "", *, problems: tuple[str, ...] = ()) -> None:
        super().__init__(message, hint)
        self.problems = problems


class ArgumentError(FleetstatsError, ValueError):
    """An argument of a function has a value that cannot be meant."""


class ArgumentTypeError(ArgumentError, TypeError):
    """An argument of a function is of a kind that cannot be read as what it stands for."""


class DataError(FleetstatsError, ValueError):
    """The input cannot mean what it says."""


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
    """The numbers asked for cannot be had from these data."""


class NoMaximum(FitError):
    """The likelihood has no maximum inside the parameter space.

    Attributes
    ----------
    reason : str
        One of ``"no-failures"``, ``"one-failure-at-oldest-age"``, ``"all-failures-at-one-age"``,
        ``"shape-falls-to-zero"``, ``"shape-grows-without-limit"``, ``"shape-not-identified"``,
        ``"scale-not-identified"``, ``"nothing-survived"``, ``"no-maximum"``.
    """

    def __init__(self, message: str, hint: str = "", *, reason: str = "no-maximum") -> None:
        super().__init__(message, hint)
        self.reason = reason


class NotConverged(FitError):
    """An iteration stopped before its tolerance was met."""


class BandError(FleetstatsError):
    """A band was asked for that the likelihood cannot give."""


class ReportError(FleetstatsError):
    """A report asks for what its results do not hold, or cannot be written."""
