"""How many lives of a long table were looked at one by one, and how far that is from all."""

from __future__ import annotations

import math
from collections.abc import Mapping

from fleetstats.core.units import text_percent
from fleetstats.core.value import Value, value
from fleetstats.document.blocks import say
from fleetstats.document.document import Statement
from fleetstats.spells.bulk.bulk_sample import Z_95, BulkSample
from fleetstats.spells.spells import Spells
from fleetstats.vocabulary.wording import count

SAMPLED = "sampled"
"""Key among results of what part of the lives chapters are of."""

CARRIED = {"sensitivity": "since"}
"""Section = chapter whose lines stand in it."""


@value
class Sampled(Value):
    """Lives drawn from a long table, by whole engines.

    Parameters
    ----------
    n, of : int
        Lives drawn, and lives of the table.
    n_failed : float
        Failures in question among those drawn.
    seed : int
        The study's, with which the digests of ids are stirred.
    """

    n: int
    of: int
    n_failed: float
    seed: int

    @classmethod
    def of_sample(cls, sample: BulkSample, spells: Spells, seed: int) -> Sampled:
        """Return it of a sample and its spells."""
        return cls(n=sample.n, of=sample.of, n_failed=spells.n_failed, seed=seed)

    @property
    def error(self) -> float | None:
        """Return how far, relatively, a rate of these may lie from that of all in 95 of 100 draws.

        The failures drawn are binomial at most, less what the draw takes of all (Cochran 1977,
        Sampling Techniques, chapter 2, from memory); None without a failure.
        """
        if self.n_failed <= 0:
            return None
        return Z_95 * math.sqrt((1.0 - self.n / self.of) / self.n_failed)

    @property
    def sentence(self) -> str:
        """Return the same in words."""
        told = (
            f"Looked at one by one: {self.n:,} of {self.of:,} lives, of whole engines drawn by the "
            f"digest of their ids (seed {self.seed}), with {count(self.n_failed, 'failure')}. "
        )
        if self.error is None:
            return told + "A rate cannot be told from them."
        return (
            told + f"A rate that they show lies within {text_percent(self.error)} of that of all "
            "lives in 95 of 100 such draws; limits told here are those of the lives drawn."
        )


@value
class SampledChapters(Value):
    """By key of a chapter, how many lives of how many it is of."""

    by_chapter: Mapping[str, Sampled]

    @property
    def sentences(self) -> tuple[str, ...]:
        """Return what is said of each part of the lives, most first."""
        told = sorted(self.by_chapter.values(), key=lambda s: -s.n)
        return tuple(dict.fromkeys(s.sentence for s in told))


def say_sampled(key: str, chapters: Mapping[str, Value]) -> tuple[Statement, ...]:
    """Return the statement that stands first in the section of a chapter of lives drawn.

    Nothing where it is of all lives, or has no value of its own.
    """
    told = chapters.get(SAMPLED)
    shown = CARRIED.get(key, key)
    if not isinstance(told, SampledChapters) or shown not in chapters:
        return ()
    mine = told.by_chapter.get(shown)
    return () if mine is None else (say(mine.sentence, "assumption"),)
