"""The folder as state: its study file and mends at one moment, edits, and how each is undone."""

from __future__ import annotations

import datetime as dt
import hashlib
import threading
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from fleetstats.core.errors import SettingError
from fleetstats.core.files import alone_in, write_whole
from fleetstats.core.limits import most
from fleetstats.desk.words import words
from fleetstats.study.scaffold import toml_text
from fleetstats.study.study import MENDS_FILE, STUDY_FILE, parse_study

MOST_ACTS = 200
NONE_YET = "none-yet"
"""Version of a folder without a study file."""


class ChangedMeanwhile(SettingError):
    """The folder is not what the form was made from: nothing was written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One edit: the line that tells it, its file, what that was before, and the version it made."""

    said: str
    before: bytes | None
    made: str
    file: str = STUDY_FILE


@dataclass(slots=True)
class Desk:
    """One open folder.

    Parameters
    ----------
    folder : Path
        The study's folder, resolved.
    acts : list of Act
        What was done since the desk was opened, the oldest first.
    role : str
        In which role decisions about cells are made; blank until it is said.
    """

    folder: Path
    acts: list[Act] = field(default_factory=list)
    role: str = ""
    lock: threading.RLock = field(default_factory=threading.RLock)

    @property
    def path(self) -> Path:
        """Return the study file's place."""
        return self.folder / STUDY_FILE

    def text(self) -> str | None:
        """Return the study file's text; None where there is none.

        Raises
        ------
        SettingError
            If it is no plain file, too long, or not UTF-8.
        """
        data = self._bytes(STUDY_FILE)
        if data is None:
            return None
        if len(data) > most("study_bytes"):
            raise SettingError(words("frame", "too_long", name=STUDY_FILE))
        try:
            return data.decode("utf-8")
        except UnicodeDecodeError:
            raise SettingError(words("frame", "not_utf8", name=STUDY_FILE)) from None

    def _bytes(self, name: str) -> bytes | None:
        path = self.folder / name
        if path.is_symlink() or (path.exists() and not path.is_file()):
            raise SettingError(words("frame", "no_plain_file", name=name))
        try:
            return path.read_bytes()
        except FileNotFoundError:
            return None
        except OSError as e:
            raise SettingError(words("frame", "unreadable", name=name, why=e.strerror)) from e

    def version(self) -> str:
        """Return the digest of the study file and its mends, which each form carries."""
        return version_of(self.text(), self._bytes(MENDS_FILE))

    def edit(
        self, version: str, said: str, change: Callable[[str], str], *, unfinished: bool = False
    ) -> None:
        """Change the study file, if it is what the form was made from.

        Parameters
        ----------
        version : str
            What the form carries.
        said : str
            The act as a line of text.
        change : callable
            From the text to the new text.
        unfinished : bool
            Whether the study may lack what the page asks for next; what it lacks is told there.

        Raises
        ------
        ChangedMeanwhile
            If the file was changed meanwhile, in another window or by hand.
        SettingError
            If the edit would make the study wrong, or cannot be made; nothing is written.
        """
        with self.lock, alone_in(self.folder):
            before = self._unchanged(version)
            after = change(first_text(self.folder) if before is None else before)
            if after == before:
                return
            wrong = problems_of(after, self.folder)
            if unfinished:
                _must_parse(after)
            elif len(wrong) > len(problems_of(before, self.folder)):
                raise SettingError(" ".join(wrong))
            write_whole(self.path, after)
            was = None if before is None else before.encode("utf-8")
            self._note(Act(said=said, before=was, made=self.version()))

    def mend(self, version: str, said: str, write: Callable[[], object]) -> None:
        """Let mends be written, if the folder is what the form was made from.

        Parameters
        ----------
        version : str
            What the form carries.
        said : str
            The act as a line of text.
        write : callable
            Writes the study's mends, all of them or none; the folder is held for it.

        Raises
        ------
        ChangedMeanwhile
            If the study file or the mends were changed meanwhile.
        DataError
            Whatever `write` raises; nothing is written then.
        """
        with self.lock, alone_in(self.folder):
            self._unchanged(version)
            before = self._bytes(MENDS_FILE)
            write()
            if self._bytes(MENDS_FILE) != before:
                self._note(Act(said=said, before=before, made=self.version(), file=MENDS_FILE))

    def _unchanged(self, version: str) -> str | None:
        """Return the study file's text, if the folder is what a form was made from."""
        text = self.text()
        if version_of(text, self._bytes(MENDS_FILE)) != version:
            raise ChangedMeanwhile(words("frame", "conflict"))
        return text

    def _note(self, act: Act) -> None:
        self.acts.append(act)
        del self.acts[:-MOST_ACTS]

    def undo(self, version: str) -> str:
        """Take the last act back, if nothing came after it; return its line."""
        with self.lock, alone_in(self.folder):
            if not self.acts:
                raise SettingError(words("frame", "nothing_to_undo"))
            last, now = self.acts[-1], self.version()
            if not version == now == last.made:
                raise ChangedMeanwhile(words("frame", "conflict"))
            if last.before is None:
                (self.folder / last.file).unlink()
            else:
                write_whole(self.folder / last.file, last.before)
            self.acts.pop()
            return last.said


def version_of(text: str | None, mends: bytes | None = None) -> str:
    """Return a digest of a study file and its mends; a name of its own where there is none."""
    if text is None:
        return NONE_YET
    digest = hashlib.sha256(text.encode("utf-8"))
    if mends is not None:
        digest.update(hashlib.sha256(mends).digest())
    return digest.hexdigest()


def _must_parse(text: str) -> None:
    """Raise SettingError where a text is no study file at all."""
    try:
        tomllib.loads(text.removeprefix("\ufeff"))
    except (tomllib.TOMLDecodeError, RecursionError) as e:
        raise SettingError(str(e)) from None


def problems_of(text: str | None, folder: Path) -> list[str]:
    """Return everything that is wrong with a study file's text; a missing one has no fault yet."""
    if text is None:
        return []
    try:
        raw = tomllib.loads(text.removeprefix("\ufeff"))
    except (tomllib.TOMLDecodeError, RecursionError) as e:
        return [str(e)]
    told = parse_study(raw, folder)
    return told if isinstance(told, list) else []


def first_text(folder: Path) -> str:
    """Return the head of a new study file: its title, and today as the day of its records."""
    title = folder.name.strip() or words("frame", "untitled")
    day = dt.datetime.now(tz=dt.UTC).date()
    why = words("frame", "date_guessed")
    return f"[study]\ntitle = {toml_text(title)}\nanalysis_date = {day.isoformat()}  # {why}\n"
