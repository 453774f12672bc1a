"""A fleet asked as one look of several may ask it, whatever rule its bounds are quoted by."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

from fleetstats.advice.looks.look import look_of
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.interval import Interval
from fleetstats.bands.looks.any_number import any_number_edges
from fleetstats.bands.method import shape_prior
from fleetstats.bands.quantity import Quantity
from fleetstats.study.look_settings import LookKeys
from fleetstats.study.settings import Settings

OVER_LOOKS = "held at every look, however many"


def settings_at_look(settings: Settings) -> Settings:
    """Return settings whose confidence is the one that this look may use.

    They know of no plan any more, so that asked again they stay as they are. Settings without a
    plan are returned themselves.
    """
    look = look_of(settings)
    if look.rule != "spending":
        return settings
    study = replace(settings.study, confidence=1.0 - 2.0 * look.level)
    return replace(settings, study=study, looks=LookKeys())


@dataclass(frozen=True, slots=True, kw_only=True)
class AnyLookQuoter(Quoter):
    """A fleet whose reliabilities hold at every look, however many.

    Parameters
    ----------
    limit : float
        Reliability accepted by the claim, about which the prior of `any_number_edges` lies.
    """

    limit: float

    def interval(self, what: Quantity) -> Interval:
        """Return the quoted interval, no edge of it closer than one that holds at every look."""
        # a slotted dataclass is made anew by its decorator, so super() would not find itself
        out = Quoter.interval(self, what)
        if what.kind != "reliability":
            return out
        low, high = any_number_edges(
            self.spells,
            what.hours,
            self.limit,
            alpha=look_of(self.settings).alpha,
            prior=shape_prior(self.settings.evidence),
        )
        if out.low is not None and (low is None or low < out.low):
            out = replace(out, low=low, method="any-number", note_low=OVER_LOOKS)
        if out.high is not None and (high is None or high > out.high):
            out = replace(out, high=high, note_high=OVER_LOOKS)
        return out

    @property
    def is_lower_alike(self) -> bool:
        """Return that it is not: a lower edge is held at every look too."""
        return False


def at_look(lives: Quoter, target: float) -> Quoter:
    """Return the fleet asked as this look may ask it; itself where no rule on looks is set.

    Parameters
    ----------
    lives : Quoter
        The fleet, or a part of one, with the study's settings.
    target : float
        Reliability accepted by the claim that is to be judged.
    """
    rule = look_of(lives.settings).rule
    if rule == "spending":
        settings = settings_at_look(lives.settings)
        if settings.study.confidence == lives.settings.study.confidence:
            return lives
        return lives.with_settings(settings)
    if rule == "single" or isinstance(lives, AnyLookQuoter):
        return lives
    return as_any_look(lives, target)


def as_any_look(lives: Quoter, target: float) -> AnyLookQuoter:
    """Return the fleet with edges that hold at every look."""
    own = {f.name: getattr(lives, f.name) for f in fields(lives)}
    return AnyLookQuoter(**own, limit=target)


def as_looked_at(lives: Quoter, other: Quoter) -> Quoter:
    """Return another fleet, asked with the edges that `lives` are asked with."""
    return as_any_look(other, lives.limit) if isinstance(lives, AnyLookQuoter) else other
