"""Makers of cautions on lives that cannot be what they say; see `caution_makers`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import numpy as np
from advice_fleets import made_settings
from caution_makers import NS, maker

from fleetstats.chapters.cautions.doubtful import caution_copies, caution_far
from fleetstats.records.life import LifeRow
from fleetstats.records.rules import judge_endings
from fleetstats.spells import Spells
from fleetstats.spells.build import spells_for
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.finding import Origin

CLAIM = NS(verdict=NS(claimed_h=800.0, accepted_failure=0.1))


@maker("far-life")
def _(over: bool) -> Iterable[Caution]:
    """Thirty lives of at most 1,000 h, and one ten times as long, or not quite three times."""
    hours = np.append(np.linspace(100.0, 1000.0, 30), 10_000.0 if over else 2_900.0)
    spells = Spells.of(0.0, hours, np.zeros(31))
    return caution_far(spells, (), made_settings(), CLAIM)  # type: ignore[arg-type]


@maker("low-failure")
def _(over: bool) -> Iterable[Caution]:
    """Thirty engines at some 100 h a year, and a failure at 5 or 40 h in 15 years."""
    rows = [
        LifeRow(
            origin=Origin(file="a.csv", row=k + 2), engine=f"K-{k:03d}", exit_h=h,
            ending="failed" if k % 3 == 0 else "running", in_service=dt.date(2010, 1, 1),
            last_reading=dt.date(2025, 1, 1),
        )
        for k, h in enumerate([*np.linspace(600.0, 1900.0, 30), 5.0 if over else 400.0])
    ]  # fmt: skip
    settings = made_settings()
    spells = spells_for(tuple(rows), tuple(judge_endings(rows, settings)), settings)
    return caution_far(spells, rows, settings, CLAIM)  # type: ignore[arg-type]


@maker("copied-lives")
def _(over: bool) -> Iterable[Caution]:
    """Thirty lives, and twenty of them again: to the digit, or with other dates."""
    rows = []
    for k in range(50):
        i = k % 30
        rows.append(
            LifeRow(
                origin=Origin(file="a.csv", row=k + 2), engine=f"{'MK'[k < 30]}-{k:03d}",
                exit_h=431.7 + 31.3 * i, ending="running", in_service=dt.date(2018, 1, 1 + i),
                last_reading=dt.date(2025, 1, 1 + 7 * (i if over else k) % 31),
            )
        )  # fmt: skip
    settings = made_settings()
    spells = spells_for(tuple(rows), tuple(judge_endings(rows, settings)), settings)
    return caution_copies(spells, rows, settings, CLAIM)  # type: ignore[arg-type]
