"""What every room is handed: the folder, its reader, its jobs, and what a form said."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from fleetstats.core.errors import DataError
from fleetstats.desk.jobs import Jobs
from fleetstats.desk.matching.guesses import Guesses
from fleetstats.desk.standing import Reader
from fleetstats.desk.state import Desk
from fleetstats.desk.words import words


@dataclass(frozen=True, slots=True)
class DeskPlace:
    """One open folder with all that works on it."""

    desk: Desk
    reader: Reader
    jobs: Jobs
    guesses: Guesses

    @classmethod
    def of(cls, folder: Path) -> DeskPlace:
        """Return the place of a folder."""
        desk = Desk(folder=folder)
        return cls(
            desk=desk, reader=Reader(desk=desk), jobs=Jobs(folder=folder),
            guesses=Guesses(folder=folder),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sent:
    """What a form or an address said: texts by name, and files with the names that they had."""

    texts: Mapping[str, str]
    files: tuple[tuple[str, bytes], ...] = field(default=())

    def text(self, name: str) -> str:
        """Return a text; blank where it is missing."""
        return self.texts.get(name, "")

    @property
    def version(self) -> str:
        """Return the version of the study file that the form was made from."""
        return self.text("version")

    def whole(self, name: str) -> int:
        """Return a whole number that a form of ours carries; raises DataError."""
        told = self.text(name)
        if not (told.isascii() and told.isdecimal() and len(told) < 9):
            raise DataError(words("frame", "no_such_form"))
        return int(told)

    def number(self, name: str, *, over: float = 1.0) -> float | None:
        """Return a number that somebody gave, divided by `over`; None where the field is blank.

        Raises
        ------
        DataError
            If it is no number.
        """
        told = self.text(name).strip()
        if not told:
            return None
        try:
            number = float(told)
        except ValueError:
            number = float("nan")
        if not abs(number) < 1e12:
            raise DataError(words("frame", "no_number", told=told[:40]))
        return number if over == 1.0 else round(number / over, 12)
