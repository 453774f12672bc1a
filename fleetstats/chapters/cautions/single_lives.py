"""Cautions that take single lives with their dates, of a table that is read by chunks."""

from __future__ import annotations

from fleetstats.advice.advice import Advice
from fleetstats.chapters.cautions.doubtful import caution_copies, caution_far
from fleetstats.chapters.cautions.rules import caution_calendar
from fleetstats.spells.build import Built
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.caution import Caution


def caution_single_lives(
    found: tuple[Caution, ...], lives: Built, settings: Settings, advice: Advice, *, all_lives: bool
) -> tuple[Caution, ...]:
    """Return cautions that were found, with those that single lives call for.

    Parameters
    ----------
    found : tuple of Caution
        What was found without the rows.
    lives : Built
        Lives with the rows behind them.
    settings, advice : Settings, Advice
        The study's.
    all_lives : bool
        Whether these are all that count. Only then can doubtful ones be left out, and what that
        gives stands for what hours alone tell of far lives.
    """
    more = caution_calendar(lives.rows, settings)
    if all_lives:
        found = tuple(c for c in found if c.code != "far-life")
        more += caution_far(lives.spells, lives.rows, settings, advice)
        more += caution_copies(lives.spells, lives.rows, settings, advice)
    return (*found, *more)
