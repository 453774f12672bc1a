"""Chapters of a table read by chunks that take lives one by one, with their dates.

Of a table with no more lives than `bulk_sample.MOST_LIVES` they are what the same rows read whole
give. Of a longer one they are of whole engines drawn from it, and each says so in its place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.chapters.change import know_rise
from fleetstats.chapters.data import SAMPLED, Sampled, SampledChapters
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.core.errors import FitError
from fleetstats.core.value import Value
from fleetstats.records.condition.condition import CONDITION_SHAPES
from fleetstats.spells.build import Built, spells_for
from fleetstats.spells.bulk.bulk_sample import BulkSample, draw_fewer
from fleetstats.spells.spells import Spells
from fleetstats.spells.tally import Tally
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.weibull.fit_weibull import try_fit

OF_CHECKS = ("condition", "compliance", "trends", "bench")
"""Chapters that put sheets of checks beside the lives that they belong to; they take all lives."""

LOOKED_AT = (
    "calendar", "calendar-plane", "use-per-year", "curve-fit", "clock-range", "clock-doubt",
    "effects", "later-lives", "change", "since", "looking-back", "removals", "check-interval",
    "backtest",
)  # fmt: skip
"""Chapters that take each life with its dates, pairs and covariates."""

MOST_CHECKED = 3_000
"""Lives of which the interval of checks is sought: so many take some seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """Lives of a table read by chunks that are looked at one by one.

    Parameters
    ----------
    built : Built
        The lives, with the rows behind them; they know of a rise of the rate that they show.
    fit : Fit or None
        Weibull fit of them.
    checked : Built
        Those of which the interval of checks is sought.
    sampled : mapping
        By key of a chapter, how many lives of how many it is of; none where it is of all.
    """

    built: Built
    fit: Fit | None
    checked: Built
    sampled: Mapping[str, Sampled]

    @property
    def is_all(self) -> bool:
        """Return whether every life that counts is looked at."""
        return "condition" not in self.sampled

    @property
    def told(self) -> dict[str, Value]:
        """Return what stands among results: of what part of the lives chapters are, if of one."""
        return {} if not self.sampled else {SAMPLED: SampledChapters(by_chapter=self.sampled)}

    @classmethod
    def of(cls, sample: BulkSample, whole: Built, settings: Settings) -> Looked:
        """Return them.

        Parameters
        ----------
        sample : BulkSample
            The lives drawn.
        whole : Built
            The account of the whole table.
        settings : Settings
            The study's.
        """
        seed = settings.study.seed
        fewer = draw_fewer(sample, MOST_CHECKED, seed)
        lives = know_rise(_built(sample, whole, settings), settings)
        checked = lives if fewer is sample else _built(fewer, whole, settings)
        sampled = {
            k: Sampled.of_sample(sample, lives.spells, seed) for k in (*LOOKED_AT, *OF_CHECKS)
        }
        sampled["check-interval"] = Sampled.of_sample(fewer, checked.spells, seed)
        return cls(
            built=lives,
            fit=try_fit(lives.spells),
            checked=checked,
            sampled={k: s for k, s in sampled.items() if s.n < s.of},
        )


def _built(sample: BulkSample, whole: Built, settings: Settings) -> Built:
    spells = spells_for(sample.rows, sample.verdicts, settings)
    return replace(whole, spells=spells, rows=sample.rows, verdicts=sample.verdicts)


def beside_looked(spells: Spells, looked: Spells) -> Spells:
    """Return the lives of a table, equal ones put together, that are not looked at."""
    rest = Tally()
    for part, sign in ((spells, 1.0), (looked, -1.0)):
        rest.add(
            part.entry, part.exit_lower, part.exit_upper, part.event, sign * part.weight,
            part.clock_sd, part.in_words,
        )  # fmt: skip
    return rest.spells()


def know_of_rise(looked: Spells, others: Spells) -> Spells:
    """Return all lives, those looked at with their ages at the rise that they show.

    The others are taken as over by then: when they ran is not known, and what is shown since the
    rise is what the lives looked at show.
    """
    return looked.join(others.replace(at_rise_h=np.full(len(others), np.inf)))


def work_looked_at(
    key: str, base: Results, looked: Looked, done: Mapping[str, Value]
) -> Value | None:
    """Return one of `LOOKED_AT` or `OF_CHECKS`, of the lives that are looked at.

    Raises
    ------
    FitError
        If it takes sheets of checks and only some lives are looked at.
    """
    of_sheets = key in OF_CHECKS or (key == "check-interval" and bool(_sheets(base)))
    if of_sheets and _sheets(base) and not looked.is_all:
        s = looked.sampled["condition"]
        raise FitError(
            f"Sheets of checks belong to engines of which {s.n:,} of {s.of:,} lives are looked at.",
            "Make a study of each source or build.",
        )
    built = looked.checked if key == "check-interval" else looked.built
    return CHAPTERS[key].work_out(replace(base, built=built, fit=looked.fit), done)


def _sheets(base: Results) -> tuple[object, ...]:
    return base.study.of_shape(*CONDITION_SHAPES)
