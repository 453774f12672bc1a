"""The failures that an overhaul mends: they alone say at which hours to overhaul.

A failure from a cause that an overhaul does not renew happens all the same, so coming in earlier
does not help; it stays in every claim, but not in the hours. One of unknown cause counts among
those mended, since leaving it out would make the hours later on no evidence.
"""

from __future__ import annotations

from dataclasses import replace

from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.groups.causes import cause_of, count_as
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.wording import count


def mended_lives(spells: Spells, settings: Settings) -> Spells | None:
    """Return the lives with only the failures that an overhaul mends in question.

    Parameters
    ----------
    spells : Spells
        Lives for the study's question, causes kept.
    settings : Settings
        ``question.not_renewed_causes`` names what an overhaul does not mend.

    Returns
    -------
    Spells or None
        Other failures count as from another cause. None where overhaul mends every failure seen;
        failures that the records leave out then all count, whatever their cause.
    """
    spared = {fold(c) for c in settings.question.not_renewed_causes}
    if not spared:
        return None
    label = cause_of(spells)
    mended = [fold(c) not in spared for c in label.tolist()]
    counted = spells.failed & mended
    if (counted == spells.failed).all():
        return None
    left_out = (x for x in spells.left_out if fold(x.cause) not in spared)
    return count_as(spells, counted).with_left_out(left_out)


def all_mended(settings: Settings) -> Settings:
    """Return the settings as if an overhaul renewed every cause."""
    return replace(settings, question=replace(settings.question, not_renewed_causes=()))


def mended_words(mended: Spells, spells: Spells) -> str:
    """Say which failures stand behind hours of overhaul."""
    return (
        f"Of {count(spells.n_failed, 'failure')} in question this counts the "
        f"{mended.n_failed:,g} that an overhaul mends."
    )
