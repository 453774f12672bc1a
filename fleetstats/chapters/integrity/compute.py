"""Signs that ask for a second look: what was found, and what it could do to the answer.

Nothing is scored. A sign is a reason to look at the papers behind some rows; what those rows carry
is asked by leaving them out, and, of engines that may have failed unheard, by counting them failed
at their last hours. Both are judged as every claim is (`advice/quoted.py`, `advice/judge.py`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fleetstats.advice.judge import accepted_failure, is_shown
from fleetstats.advice.looks.at_look import at_look
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.integrity.found import MOST_PLACES, Found, sources_of
from fleetstats.chapters.integrity.hours import (
    alike_sign,
    digits_sign,
    ends_sign,
    read_sign,
    use_sign,
)
from fleetstats.chapters.integrity.lives import (
    contradictory_sign,
    dates_told,
    gone_sign,
    standing_sign,
    unread_sign,
)
from fleetstats.chapters.integrity.values import Effect, Integrity, RecordSign
from fleetstats.chapters.integrity.words import integrity_cautions, integrity_sentence
from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.records.reading import Records
from fleetstats.records.told_by import read_telling
from fleetstats.spells import Spells
from fleetstats.spells.build import Built
from fleetstats.spells.scenarios import fail_at_end
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.weibull.fit_weibull import try_fit


def look_again(
    records: Records, built: Built, fit: Fit | None, settings: Settings
) -> Integrity | None:
    """Return the signs in the records that ask for a second look; None without lives.

    Parameters
    ----------
    records : Records
        As read; the returns before merging tell more than the lives after it.
    built : Built
        Lives at risk: only rows that are used can bear a sign, the audit tells of the others.
    fit : Fit or None
        Weibull fit of them.
    settings : Settings
        Claim, confidence, days after which a reading is stale.
    """
    rows, spells = built.rows, built.spells
    if not rows or len(rows) != len(spells):
        return None
    telling, dates = read_telling(records), dates_told(rows, settings)
    found = (
        digits_sign(rows, settings),
        use_sign(rows, dates),
        alike_sign(rows),
        ends_sign(rows),
        read_sign(rows),
        standing_sign(rows, records, telling, settings),
        unread_sign(rows, settings),
        contradictory_sign(rows, records, telling, dates),
        gone_sign(rows, records),
    )
    judge = _Judge(spells, fit, settings)
    out = Integrity(
        sentence="",
        signs=tuple(_sign(f, rows, judge) for f in found),
        as_recorded=judge.as_recorded,
        claimed_h=settings.study.claimed_interval_h,
        accepted_failure=accepted_failure(settings),
        target=settings.targets.reliability,
    )
    out = replace(out, sentence=integrity_sentence(out))
    return replace(out, cautions=integrity_cautions(out))


class _Judge:
    """What the records would show, were some rows taken otherwise; each set of rows once."""

    def __init__(self, spells: Spells, fit: Fit | None, settings: Settings) -> None:
        self.spells, self.settings = spells, settings
        self.own = Quoter.of(spells, fit, settings)
        self.as_recorded = self.effect(self.own)
        self.known: dict[tuple[bool, tuple[int, ...]], Effect | None] = {}

    def effect(self, lives: Quoter) -> Effect:
        """Return what a fleet shows by the claimed hours, or to which hours without a claim."""
        claim = self.settings.study.claimed_interval_h
        if claim is None:
            life = lives.interval(Quantity.life(1.0 - self.settings.targets.reliability))
            return Effect(failure_high=None, shown=None, hours=life.low or 0.0)
        target = 1.0 - accepted_failure(self.settings)
        low = at_look(lives, target).interval(Quantity.reliability(claim)).low or 0.0
        shown = is_shown(low, target, extrapolated=claim > lives.reach_h)
        return Effect(failure_high=1.0 - low, shown=shown, hours=None)

    def taken(self, which: tuple[int, ...], *, failed: bool) -> Effect | None:
        """Return the effect of rows left out or counted failed; None where no lives are left."""
        key = (failed, which)
        if key not in self.known:
            mask = np.zeros(len(self.spells), dtype=bool)
            mask[list(which)] = True
            self.known[key] = self._failed(mask) if failed else self._without(mask)
        return self.known[key]

    def _without(self, mask: Array) -> Effect | None:
        lives = self.spells.select(~mask)
        if not len(lives):
            return None
        return self.effect(Quoter.of(lives, try_fit(lives), self.settings))

    def _failed(self, mask: Array) -> Effect:
        """Made-up failures make no shape known, and late ones are no reason for more trust."""
        lives = fail_at_end(self.spells, mask)
        own = self.own
        x = self.effect(Quoter.of(lives, try_fit(lives), self.settings, recorded=own))
        now = self.as_recorded
        if x.failure_high is not None and now.failure_high is not None:
            high = max(x.failure_high, now.failure_high)
            return replace(x, failure_high=high, shown=bool(x.shown and now.shown))
        return replace(x, hours=min(x.hours or 0.0, now.hours or 0.0))


def _sign(f: Found, rows: tuple[LifeRow, ...], judge: _Judge) -> RecordSign:
    running = tuple(i for i in f.which if rows[i].ending == "running")
    places = [f"{rows[i].engine} ({rows[i].origin})" for i in f.which[:MOST_PLACES]]
    return RecordSign(
        key=f.key,
        n_looked=f.n_looked,
        n_found=len(f.which) if f.n_found is None else f.n_found,
        unit=f.unit,
        found=f.found,
        expected=f.expected,
        sources=f.sources or sources_of(rows, f.which),
        places=tuple(places),
        left_out=judge.taken(f.which, failed=False) if f.which and f.doubted else None,
        failed=judge.taken(running, failed=True) if running and f.may_have_failed else None,
    )
