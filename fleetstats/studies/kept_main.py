"""Fit, families, bands and advice of a table read by chunks, kept beside what they rest on.

They ask the lives and some settings and nothing else: the digest of what the lives rest on and the
values of the settings that were read stand beside them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from fleetstats.advice.advice import Advice
from fleetstats.advice.advise import advise_hours
from fleetstats.advice.results import Description, Sureness
from fleetstats.core.shelf import Shelf
from fleetstats.core.stages import silent
from fleetstats.spells.bulk.kept_rows import settings_stand, told_settings
from fleetstats.spells.spells import Spells
from fleetstats.studies.main_results import be_sure, compare_families, describe, fit_or_reason
from fleetstats.studies.reads import Reads, telling
from fleetstats.study.settings import Settings
from fleetstats.survival.families.families import Comparison
from fleetstats.survival.fit import Fit

KIND = "main"


@dataclass(frozen=True, slots=True, kw_only=True)
class Main:
    """What every study shows of its lives before any chapter; as the fields of `Results`."""

    description: Description
    fit: Fit | None
    no_fit: str
    comparison: Comparison | None
    sureness: Sureness
    advice: Advice


def work_main(
    spells: Spells,
    settings: Settings,
    stage: Callable[[str], None] = silent,
) -> Main:
    """Return it, worked out.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    settings : Settings
        The study's, telling which of them are read or not.
    stage : callable
        Told the name of each stage as it begins.
    """
    stage("describing the lives")
    description = describe(spells, settings)
    stage("fitting")
    fit, no_fit = fit_or_reason(spells)
    comparison = compare_families(spells, fit)
    stage("computing bands")
    sureness = be_sure(spells, fit, settings)
    stage("weighing the advice")
    advice = advise_hours(spells, fit, settings)
    return Main(
        description=description, fit=fit, no_fit=no_fit, comparison=comparison, sureness=sureness,
        advice=advice,
    )  # fmt: skip


def take_or_work_main(
    shelf: Shelf | None, of_lives: str | None, spells: Spells, settings: Settings,
    stage: Callable[[str], None],
) -> Main:  # fmt: skip
    """Return it as it was kept, or work it out and keep it.

    Parameters
    ----------
    shelf : Shelf or None
        None keeps nothing.
    of_lives : str or None
        Digest of what the lives rest on; None where that is not told, and nothing is kept.
    spells : Spells
        Lives at risk.
    settings : Settings
        The study's.
    stage : callable
        Told the name of each stage as it begins.
    """
    if shelf is None or of_lives is None:
        return work_main(spells, settings, stage)

    def fits(about: Mapping[str, Any]) -> bool:
        return about["lives"] == of_lives and settings_stand(settings, about["settings"])

    found = shelf.take(KIND, fits)
    if found:
        made: Main = found[1]
        return made
    reads = Reads()
    made = work_main(spells, telling(settings, reads), stage)
    about = {"lives": of_lives, "settings": told_settings(settings, reads.keys)}
    shelf.keep(KIND, about, made)
    return made
