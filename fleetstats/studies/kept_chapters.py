"""Chapters kept one by one, by what each asked for when it was worked out.

A chapter stands beside the values of the settings that it read and the digests of the parts of the
study and of the chapters at which it looked. It is taken up where all of them are as they were: a
changed setting or a file that grew touches those that ask for it, and no other. One that looks into
the study's folder is worked out anew, for what it reads there nobody noted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from fleetstats.advice.results import Results
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.core.beside import Beside, Later
from fleetstats.core.provenance import digest_file
from fleetstats.core.shelf import Shelf, digest_content
from fleetstats.core.value import Value
from fleetstats.spells.bulk.kept_rows import file_keys, settings_stand, told_settings
from fleetstats.studies.apart import needed_of
from fleetstats.studies.asked import EVERY, Work, Worked, work_noting
from fleetstats.survival.fit import Fit
from fleetstats.survival.second_opinion import Opinion, second_opinions
from fleetstats.vocabulary.wording import count

KIND = "chapter"
OPINIONS = "opinions"

FROM_S = 0.05
"""Work of a processor below which looking for what was kept takes as long."""

OF_LIVES = ("built", "records", "audit")
"""Parts of results that are made of rows alone."""

MISSING = "none"
"""Stands for the digest of a chapter that has no value."""


def later_opinions(shelf: Shelf | None, beside: Beside, fit: Fit) -> Later[tuple[Opinion, ...]]:
    """Return what the libraries say of a fit, as it was kept or as they are asked beside."""
    told = None if shelf is None else digest_content(fit)
    if shelf is None or told is None:
        return beside.ask(second_opinions, fit)
    found = shelf.take(OPINIONS, {"fit": told}.__eq__)
    if found:
        held: tuple[Opinion, ...] = found[1]
        return Later(tuple, (held,))
    return beside.ask(second_opinions, fit)


class KeptChapters:
    """The chapters of one study that are kept, or will be.

    Parameters
    ----------
    shelf : Shelf or None
        None keeps nothing, and notes nothing.
    base : Results
        What the chapters are worked out from.
    of_lives : str, optional
        Digest of what the lives of a table read by chunks rest on. It stands for all that was made
        of its rows: records, lives, and the chapters that are there from the beginning.
    """

    def __init__(
        self, shelf: Shelf | None, base: Results, *, of_lives: str | None = None
    ) -> None:  # fmt: skip
        self.shelf = shelf
        self.base = base
        self.of_lives = of_lives
        self.taken: list[str] = []
        self._parts: dict[str, str | None] = {}
        self._values: dict[str, tuple[Value, str | None]] = {}

    def with_opinions(self, opinions: Later[tuple[Opinion, ...]]) -> Results:
        """Return the base with what the libraries say, which is kept and looked at from now on."""
        self.base = replace(self.base, opinions=opinions.take())
        self._parts.pop("opinions", None)
        told = digest_content(self.base.fit)
        asked = opinions.function is second_opinions
        if self.shelf is not None and asked and told is not None:
            self.shelf.keep(OPINIONS, {"fit": told}, self.base.opinions)
        return self.base

    def take(self, key: str, done: Mapping[str, Value]) -> tuple[Value | None] | None:
        """Return the value of a chapter as it was kept, in a tuple of its own; None without one."""
        if self.shelf is None:
            return None
        found = self.shelf.take(f"{KIND}-{key}", lambda about: self._fits(key, about, done))
        if not found:
            return None
        self.taken.append(key)
        made: tuple[Value | None] = found[1]
        return made

    def take_all(
        self, keys: Iterable[str], found: Mapping[str, Value]
    ) -> dict[str, tuple[Value | None]]:
        """Return those of some chapters that are kept, each asking those that it needs alone."""
        taken = {k: self.take(k, needed_of(k, found)) for k in keys}
        return {k: v for k, v in taken.items() if v is not None}

    def keep(self, key: str, done: Mapping[str, Value], worked: Worked) -> Value | None:
        """Keep what was worked out, where that pays and its grounds can be told; return it."""
        asked = worked.asked
        if self.shelf is None or asked is None:
            return worked.value
        # of a long table what is made once for all chapters is not there when one is taken up
        if worked.seconds < FROM_S and self.of_lives is None:
            return worked.value
        if EVERY in asked.chapters:
            return worked.value
        parts = {p: self._part(p) for p in asked.parts}
        chapters = {k: self._value(k, done) for k in asked.chapters}
        if None not in (*parts.values(), *chapters.values()):
            settings = told_settings(self.base.settings, asked.settings)
            about = {
                "key": key, "settings": settings, "parts": parts, "chapters": chapters,
                "lives": self.of_lives,
            }  # fmt: skip
            self.shelf.keep(f"{KIND}-{key}", about, (worked.value,))
        return worked.value

    def work(
        self, key: str, done: Mapping[str, Value], work: Work | None = None
    ) -> Value | None:  # fmt: skip
        """Return a chapter's value as it was kept, or work it out, by `work` if told, and keep it.

        What `work` takes beside base and chapters must rest on what the lives do.
        """
        if self.shelf is None:
            return (work or CHAPTERS[key].work_out)(self.base, done)
        found = self.take(key, done)
        if found is not None:
            return found[0]
        return self.keep(key, done, work_noting(key, self.base, done, work))

    def say(self) -> None:
        """Say how many chapters were taken up, if any."""
        if self.shelf is not None and self.taken:
            self.shelf.tell(
                f"{count(len(self.taken), 'chapter')} of which no ground has changed "
                f"{'is' if len(self.taken) == 1 else 'are'} taken up from the run before (--again "
                "works all out anew)."
            )

    def _fits(self, key: str, about: Mapping[str, Any], done: Mapping[str, Value]) -> bool:
        told = about["settings"]
        return bool(
            about["key"] == key
            and about["lives"] == self.of_lives
            and settings_stand(self.base.settings, told)
            and all(self._value(k, done) == d for k, d in about["chapters"].items())
            and all(self._part(p) == d for p, d in about["parts"].items())
        )

    def _part(self, name: str) -> str | None:
        if self.of_lives is not None and name.partition(".")[0] in OF_LIVES:
            return self.of_lives
        if name not in self._parts:
            self._parts[name] = _digest_part(self.base, name)
        return self._parts[name]

    def _value(self, key: str, done: Mapping[str, Value]) -> str | None:
        found = done.get(key)
        if found is None:
            return MISSING
        if self.of_lives is not None and key in self.base.chapters:
            return self.of_lives
        held = self._values.get(key)
        if held is None or held[0] is not found:
            self._values[key] = held = (found, digest_content(found))
        return held[1]


def _digest_part(base: Results, name: str) -> str | None:
    """Return the digest of a part at which a chapter looked; None where it cannot be told."""
    if name == "study.folder":  # whatever lies there may have been read
        return None
    held: Any = base
    if name == "study.files":
        held = [(file_keys(f), digest_file(f.path)) for f in base.study.files]
        return digest_content(held)
    for field in name.split("."):
        held = getattr(held, field)
    return digest_content(held)
