"""The one rule by which a bound becomes a number that advice and claims may quote.

The lower edge of a life or a reliability is the better of two bounds that each hold by themselves:
the worst over all shapes that the records leave open (`bands/open/open_shapes.py`), from no
failure to many without a switch, and the one that assumes no shape and counts engines
(`bands/shape_free.py`). Claims, verdicts, the overhaul band, plans and the tipping points all read
their edges here, so that they cannot disagree. A method that the study asks for may be more careful
than that, never less; and the count of all engines at risk on the way to an age must bear the edge
of a curve as well (`bands/near_claim.py`). Estimate and upper
edge are those of the band by the method chosen.

The law: a failure more at or below an age never betters the edge at that age or beyond, and hours
more without a failure do not worsen it, but for what they say of the shape: a running engine that
outlives all others speaks for a flatter curve, and so for more at young ages. In 2,000 made fleets
50 h more of one engine raised no chance by over 0.22 points; 400 h more of one, or 100 h more of
all, raised one by over half a point in 2 % and at most by 3.5. That, and that the edges hold, is
measured by ``tests/tools/quoted_study.py``. Unreported failures are failures
without hours of their own: the exposure stays as recorded.

Where all failures may lie at one age (every one found at one check, say) no shape is the best: then
both edges count engines, and there is no estimate between.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fleetstats.advice.clock_doubt.doubts import clocks_sure
from fleetstats.advice.clock_doubt.held import hold_to_clocks
from fleetstats.advice.in_words.held import hold_to_words, low_held_to_words
from fleetstats.bands.choose import Asked
from fleetstats.bands.counted import COUNTED, by_count_alone, high_beside_curve, hold_to_count
from fleetstats.bands.in_use import is_few, prepare
from fleetstats.bands.interval import Interval
from fleetstats.bands.method import method_of_call, shape_prior
from fleetstats.bands.near_claim import NearClaim
from fleetstats.bands.open.open_shapes import OpenShapes
from fleetstats.bands.quantity import Quantity
from fleetstats.bands.shape_free import Settled
from fleetstats.core.kept import Same, kept
from fleetstats.spells import Spells
from fleetstats.spells.placings import ages_left_out
from fleetstats.spells.supposed.changed import failure_ages
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit


def open_shapes(
    spells: Spells, settings: Settings, recorded: Spells | None = None, *, left_out: bool = False
) -> OpenShapes:
    """Return the bounds over the shapes that spells leave open; hours are those of `recorded`.

    With `left_out`, the failures left out count at whatever ages they can have.
    """
    keys, confidence = settings.evidence, 0.5 * (1.0 + settings.study.confidence)
    prior = shape_prior(keys)
    stated = (prior.median, prior.log_sd) if prior.stated else None
    return kept(
        spells,
        ("open shapes", confidence, keys.shapes, stated, Same(recorded), left_out),
        lambda: OpenShapes.of(
            spells,
            confidence=confidence,
            shapes=keys.shapes,
            prior=prior if prior.stated else None,
            exposed=recorded,
            unplaced=ages_left_out(spells) if left_out else (),
        ),
    )


def reliability_low(
    spells: Spells,
    settings: Settings,
    hours: float,
    confidence: float,
    *,
    recorded: Spells | None = None,
    left_out: bool = False,
) -> float:
    """Return the lower edge of a reliability by the rule at the head of this file, and no more.

    For plans, which ask of many fleets that are not yet there, at a confidence of their own, and
    for what the records say by themselves. `recorded` as in `Quoter`; `left_out` as in
    `open_shapes`.
    """
    how = (settings, hours, confidence, left_out)
    return low_held_to_words(lambda s, seen: _low_as_it_stands(s, seen, *how), spells, recorded)


def _low_as_it_stands(
    spells: Spells, recorded: Spells | None, settings: Settings, hours: float, confidence: float,
    left_out: bool,
) -> float:  # fmt: skip
    at = np.array([hours])
    seen = spells if recorded is None else recorded
    added = spells.n_failed + (spells.n_left_out if left_out else 0.0) - seen.n_failed
    settled = Settled.of_spells(seen)
    free = 1.0 - float(settled.failure_high(at, confidence, added=added)[0])
    if no_best_shape(spells):
        return free
    asked = replace(settings, study=replace(settings.study, confidence=2.0 * confidence - 1.0))
    shapes = open_shapes(spells, asked, recorded, left_out=left_out)
    own = float(np.exp(-np.exp(np.minimum(shapes.log_hazard(at), 700.0)))[0])
    near = near_claim(seen, settings).failure_high(at, confidence, added=added)
    own = min(own, 1.0 - float(near[0]))
    most = high_beside_curve(settled, Quantity.reliability(hours), confidence)
    return min(max(free, own), 1.0 if most is None else most)


def near_claim(spells: Spells, settings: Settings) -> NearClaim:
    """Return what the engines counted on the way allow, whatever the curve."""
    return NearClaim.of(spells, least=settings.evidence.min_at_risk)


def no_best_shape(spells: Spells) -> bool:
    """Return whether two failures or more may all lie at one age that no life outlived.

    The likelihood then rises without end as the shape does.
    """
    known = failure_ages(spells)
    if (spells.n_failed if known is None else len(known)) < 2.0:
        return False
    age = float(spells.exit_upper[spells.failed].min() if known is None else known[0])
    return bool((spells.exit_lower <= age).all())


def _shapes_of(
    spells: Spells, placed_from: Spells | None, settings: Settings, recorded: Spells | None
) -> OpenShapes:
    fleet = spells if placed_from is None else placed_from
    return open_shapes(fleet, settings, recorded, left_out=placed_from is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Quoter:
    """The rule at the head of this file, prepared for one fleet and asked as often as needed.

    Every answer of an advice and every judgement of a claim asks its fleet through this, so that a
    study, a cell of its page and a part of its fleet are answered by one computation.

    Parameters
    ----------
    spells : Spells
    fit : Fit or None
        Weibull fit of them; None without failures.
    settings : Settings
    few : bool
        Whether failures are too few to read a shape from; with made-up failures as of the fleet as
        recorded, since they do not make the shape known.
    asked : Asked
    shapes : OpenShapes
    settled : Settled
        Engines of the fleet as recorded, counted at each age.
    near : NearClaim
        What the engines counted on the way to an age allow; of the fleet as recorded.
    recorded : Spells or None
        The fleet as recorded, where `spells` hold unreported failures besides.
    reach_from : Spells or None
        The fleet whose evidence says how far it reaches, where `spells` hold failures that the
        records leave out; `recorded` then has no more hours than these allow.
    placed_from : Spells or None
        The fleet of which `spells` is then one placing of those. The ages are our own, so that the
        shapes left open are those of every placing.
    """

    spells: Spells
    fit: Fit | None
    settings: Settings
    few: bool
    asked: Asked
    shapes: OpenShapes
    settled: Settled
    near: NearClaim
    recorded: Spells | None = None
    reach_from: Spells | None = None
    placed_from: Spells | None = None

    @classmethod
    def of(
        cls, spells: Spells, fit: Fit | None, settings: Settings, *, recorded: Quoter | None = None
    ) -> Quoter:
        """Prepare the rule for spells and their Weibull fit, where one exists.

        `recorded` is that of the fleet as recorded, where `spells` hold made-up failures besides.
        """
        fit = None if spells.n_failed < 1 else fit
        return cls.prepared(
            spells,
            fit,
            settings,
            few=is_few(spells, fit) if recorded is None else recorded.few,
            recorded=None if recorded is None else recorded.spells,
        )

    @classmethod
    def prepared(
        cls,
        spells: Spells,
        fit: Fit | None,
        settings: Settings,
        *,
        few: bool,
        recorded: Spells | None = None,
        reach_from: Spells | None = None,
        placed_from: Spells | None = None,
    ) -> Quoter:
        """Prepare the rule for what is known of a fleet; parameters as of the class."""
        return cls(
            spells=spells,
            fit=fit,
            settings=settings,
            few=few,
            asked=prepare(spells, fit, settings, method="shape-mixture" if few else None),
            shapes=_shapes_of(spells, placed_from, settings, recorded),
            settled=Settled.of_spells(spells if recorded is None else recorded),
            near=near_claim(spells if recorded is None else recorded, settings),
            recorded=recorded,
            reach_from=reach_from,
            placed_from=placed_from,
        )

    def with_settings(self, settings: Settings) -> Quoter:
        """Return the fleet asked by settings of the same evidence and seed, at any confidence."""
        return replace(
            self,
            settings=settings,
            asked=replace(self.asked, level=settings.study.confidence),
            shapes=_shapes_of(self.spells, self.placed_from, settings, self.recorded),
        )

    @property
    def reach_h(self) -> float:
        """Return the hours at which the evidence ends; made-up failures do not move it."""
        lives = self.spells if self.recorded is None else self.recorded
        lives = lives if self.reach_from is None else self.reach_from
        least = self.settings.evidence.min_at_risk
        return kept(lives, ("horizon", least), lambda: lives.horizon_h(least=least))

    def interval(self, what: Quantity) -> Interval:
        """Return the interval of a life or a reliability whose lower edge may be quoted."""
        return hold_to_clocks(self, what)

    def lower_edge(self, what: Quantity) -> Interval:
        """Return the interval as far as its lower edge goes; nothing is sought for the others."""
        return self._lower_as_it_stands(what) if self.is_lower_alike else self.interval(what)

    def sure(self, what: Quantity) -> Interval:
        """Return the same, if every clock is right."""
        return hold_to_words(self, self.as_it_stands(what), what)

    def as_it_stands(self, what: Quantity) -> Interval:
        """Return the interval with those of failures as they stand."""
        # the mixture's own lower edge is never quoted: the count or the shapes left open set it
        out = self.asked.interval(what, lower=self.asked.method != "shape-mixture")
        if self._no_best_shape:
            return by_count_alone(out, self.settled, what, self._confidence, low=self._free(what))
        out = self._held_near(self._of_curve(out, what), what)
        return hold_to_count(out, self.settled, what, self._confidence)

    def _lower_as_it_stands(self, what: Quantity) -> Interval:
        """Return what `as_it_stands` does without estimate and upper edge; of a mixture."""
        low, out = self.uncapped(what)
        return out if self.asked.allows(what, low) else self.as_it_stands(what)

    def uncapped(self, what: Quantity) -> tuple[float, Interval]:
        """Return a lower edge as it is where no estimate or upper edge of a mixture lies below it.

        First what neither may lie below. Of all placings of one fleet it is the same, but for those
        that place fewer failures, of which it is no worse.
        """
        key = (
            "uncapped", what.kind, what.p, what.hours, self._confidence, self._added,
            Same(self.settled), Same(self.near),
        )  # fmt: skip
        return kept(self.shapes, key, lambda: self._uncapped(what))

    def _uncapped(self, what: Quantity) -> tuple[float, Interval]:
        alone = self._no_best_shape
        low, method, note = (
            (self._free(what), "shape-free", COUNTED) if alone else self._better_low(what)
        )
        out = Interval(
            name=what.name, estimate=None, low=low, high=None, level=self.settings.study.confidence,
            method=method, unit=what.unit, note_low=note,
        )  # fmt: skip
        if alone:
            return 0.0, out
        held = hold_to_count(self._held_near(out, what), self.settled, what, self._confidence)
        return low, held

    @property
    def is_lower_alike(self) -> bool:
        """Return whether `lower_edge` is what `uncapped` says where no other edge lies below it.

        So for every placing of the fleet: a mixture whatever is fitted, and nothing in doubt.
        """
        keys = self.settings.evidence
        mixed = self.few or method_of_call(keys.method, "weibull", keys) == "shape-mixture"
        sure = clocks_sure(self.spells, self.settings.clocks)
        return mixed and sure and not self.spells.in_words.any()

    @property
    def _no_best_shape(self) -> bool:
        """Return whether all failures may lie at one age, the fleet's own as the records tell."""
        return no_best_shape(self.spells if self.placed_from is None else self.placed_from)

    @property
    def _confidence(self) -> float:
        """Return that of one edge."""
        return 0.5 * (1.0 + self.settings.study.confidence)

    def counted_high(self, hours: float) -> float:
        """Return the upper edge of the reliability at any hours that the failures counted leave."""
        edge = high_beside_curve(self.settled, Quantity.reliability(hours), self._confidence)
        return 1.0 if edge is None else edge

    def _held_near(self, out: Interval, what: Quantity) -> Interval:
        """Return the interval with the lower edge that the failures near its age allow."""
        if out.low is None:
            return out
        confidence = self._confidence
        if what.kind == "life":
            low = self.near.life_low_h(what.p, confidence, added=self._added)
        else:
            at = np.array([what.hours])
            low = 1.0 - float(self.near.failure_high(at, confidence, added=self._added)[0])
        low = max(low, self._free(what))
        if low >= out.low:
            return out
        note = "engines counted on the way to these hours, where the curve alone is kinder"
        return replace(out, low=low, method="near-claim", note_low=note)

    @property
    def _added(self) -> float:
        """Return how many failures are made up; they have no hours."""
        return 0.0 if self.recorded is None else self.spells.n_failed - self.recorded.n_failed

    def _of_curve(self, out: Interval, what: Quantity) -> Interval:
        """Return the interval by the shapes left open or by the count, whichever is the better."""
        low, method, note = self._better_low(what)
        if not self.few and self.asked.method != "shape-mixture" and (out.low or 0.0) <= low:
            return out
        for edge in (out.estimate, out.high):
            low = low if edge is None else min(low, edge)
        return replace(out, low=low, method=method, note_low=note)

    def _better_low(self, what: Quantity) -> tuple[float, str, str]:
        """Return the better of both lower edges, its method, and a note of it."""
        free, (own, shape) = self._free(what), self._open(what)
        low, method = max((own, "open-shapes"), (free, "shape-free"))
        note = f"least favourable shape that the records leave open: {shape:.3g}"
        return low, method, note if method == "open-shapes" else COUNTED

    def _open(self, what: Quantity) -> tuple[float, float]:
        """Return the lower edge over the shapes left open, and the shape that sets it."""
        if what.kind == "life":
            low = self.shapes.life_h(what.p)
            return low, self.shapes.worst_shape(low)
        log_hazard = self.shapes.log_hazard(np.array([what.hours]))
        low = float(np.exp(-np.exp(np.minimum(log_hazard, 700.0)))[0])
        return low, self.shapes.worst_shape(what.hours)

    def _free(self, what: Quantity) -> float:
        """Return the lower edge that assumes no shape; made-up failures have no hours."""
        confidence = self._confidence
        if what.kind == "life":
            return self.settled.life_low_h(what.p, confidence, added=self._added)
        at = np.array([what.hours])
        return 1.0 - float(self.settled.failure_high(at, confidence, added=self._added)[0])


def quoted_interval(
    spells: Spells, fit: Fit | None, what: Quantity, settings: Settings
) -> Interval:
    """Return the interval of a life or a reliability whose lower edge may be quoted.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    fit : Fit or None
        Weibull fit of them, where one exists.
    what : Quantity
        `Quantity.life` or `Quantity.reliability`.
    settings : Settings
        Confidence, shapes, prior, method.
    """
    return Quoter.of(spells, fit, settings).interval(what)
