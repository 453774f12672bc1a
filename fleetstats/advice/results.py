"""All results of one study, as one value; the report is composed from it alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import TYPE_CHECKING, Any, ClassVar

from fleetstats.advice.advice import Advice
from fleetstats.bands.interval import Band, Interval
from fleetstats.bands.method import MethodChoice
from fleetstats.core.provenance import Provenance
from fleetstats.core.value import Value, value
from fleetstats.records.audit.finding import Audit
from fleetstats.records.reading import Records
from fleetstats.spells.build import Built
from fleetstats.spells.spells import Spells
from fleetstats.study.assumptions import Assumption
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.survival.counting.exposure import ExposureTable
from fleetstats.survival.counting.incidence import OuterBand
from fleetstats.survival.counting.plotting import PlotPoints
from fleetstats.survival.counting.product_limit import HazardCurve, StepCurve
from fleetstats.survival.counting.turnbull import TurnbullCurve
from fleetstats.survival.families.families import Comparison
from fleetstats.survival.fit import Fit
from fleetstats.survival.second_opinion import Opinion
from fleetstats.vocabulary.caution import STANDING_NOTICE, Caution

if TYPE_CHECKING:
    import pandas as pd


@value
class Description(Value):
    """What the data show, before any family is assumed.

    `outer_band` counts none or all of the removals on a finding as failures (Peterson 1976);
    `turnbull` is there when failures are known only to lie between checks; `points` when there is
    a failure to plot.
    """

    product_limit: StepCurve
    cumulative_hazard: HazardCurve
    exposure: ExposureTable
    outer_band: OuterBand | None = None
    turnbull: TurnbullCurve | None = None
    points: PlotPoints | None = None


@value
class Sureness(Value):
    """Bands of everything that the report shows as a number or a curve.

    `shape` and `scale` are None where no family could be fitted; `lives` holds B1, B5, B10 and the
    target's life; the curves run from 0 to past the claim and the oldest engine.
    """

    choice: MethodChoice
    level: float
    shape: Interval | None
    scale: Interval | None
    lives: tuple[Interval, ...]
    reliability: Band
    hazard: Band
    conditional: Band
    normal_approximation: tuple[Interval, ...] = ()


@value
class HowRead(Value):
    """How a study's record files were read.

    Parameters
    ----------
    by_chunks : bool
        Whether tables were read by chunks, no row kept; else whole tables.
    reason : str
        Why: "asked"; "size", the tables'; "needs", what the study asks for; "merging", engines
        in several tables; "at-hand", rows that had been read before.
    sentence : str
        The same in words.
    left_out : tuple of str
        What is not computed for it.
    quick : bool
        Whether chapters are left out of it that the same reading would allow.
    """

    by_chunks: bool
    reason: str
    sentence: str
    left_out: tuple[str, ...] = ()
    quick: bool = False


@value
class Results(Value):
    """A study from its records to its advice.

    Parameters
    ----------
    fit : Fit or None
        Weibull fit to the failures in question; None where the likelihood has no maximum, and
        then `no_fit` says why.
    comparison : Comparison or None
        Other families beside it.
    opinions : tuple of Opinion
        The same question put to the libraries.
    chapters : mapping
        Further chapters by key, in the order of `chapters/registry.py`.
    troubles : tuple of Caution
        Chapters that could not be computed, each with the reason.

    Where the table was read by chunks, `chapters` holds the account of its rows under "bulk" and
    how few rows the answers rest on under "pairing"; `records` has no row, and `audit` no more
    than the first findings of each kind.
    """

    study: Study
    assumptions: tuple[Assumption, ...]
    records: Records
    audit: Audit
    built: Built
    description: Description
    fit: Fit | None
    no_fit: str
    comparison: Comparison | None
    opinions: tuple[Opinion, ...]
    sureness: Sureness
    advice: Advice
    provenance: Provenance
    how_read: HowRead
    chapters: Mapping[str, Value] = field(default_factory=dict)
    troubles: tuple[Caution, ...] = ()

    _not_in_dict: ClassVar[tuple[str, ...]] = ("records",)

    @property
    def spells(self) -> Spells:
        """Return the lives at risk for the study's question."""
        return self.built.spells

    @property
    def settings(self) -> Settings:
        """Return the study's settings."""
        return self.study.settings

    @property
    def enough(self) -> bool:
        """Return whether the records gave an overhaul band at all."""
        return self.advice.overhaul_band.state not in ("hours-do-not-tell", "not-enough-evidence")

    def to_dict(self) -> dict[str, Any]:
        """Return the results as JSON-ready values.

        Of a table read by chunks "built" and "audit" are left out: their spells are entries paired
        with ends, their findings the first of many; the whole account is under "bulk".
        """
        return Value.to_dict(self)

    def _members(self) -> dict[str, Any]:
        """Return what the results' dictionary holds, as `to_dict` says."""
        left = ("built", "audit") if self.how_read.by_chunks else ()
        return {k: v for k, v in Value._members(self).items() if k not in left}

    def to_frame(self) -> pd.DataFrame:
        """Return the answers as a table; see `Advice.to_frame`."""
        return self.advice.to_frame()

    def answer_lines(self) -> tuple[str, ...]:
        """Return the answer for a prompt: verdict, band, evidence, cautions, standing notice."""
        a = self.advice
        lines = [self.settings.study.title, ""]
        if a.verdict is not None:
            lines.append(a.verdict.sentence)
        lines += [a.overhaul_band.sentence, a.horizon.sentence, self.built.trouble.sentence, ""]
        brought = [line for c in self.chapters.values() for line in getattr(c, "prompt_lines", ())]
        lines += [*brought, ""] if brought else []
        lines += [f"Caution ({c.code}): {c.text}" for c in a.cautions]
        lines += ["", *STANDING_NOTICE]
        return tuple(lines)
