"""The bound with the failures that stand in the records and in no spell.

A failure that was set aside, since nobody wrote its hours or since a rule refused it, happened all
the same. The bound with all of them is asked of every fleet of `spells/placings.py`: all at the
least hours that each can have, all at the greatest, in between, and spread. The worst edge at each
age counts, and it is never better than the edge without them. The shapes left open, by which the
edge is quoted (`advice/quoted.py`), are those of all placings at once, and the hours those that the
records leave if each failure came at its least age; what else a method makes of a fleet is worked
out at each placing. The evidence ends where it ends without them: the records still say that the
engines were there.

An estimate or an upper edge would rest on ages that nobody knows, so there is none.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from numpy.typing import ArrayLike

from fleetstats.advice.clock_doubt.held import low_held_to_clocks
from fleetstats.advice.equivalents import life_equivalents
from fleetstats.advice.looks.at_look import as_looked_at
from fleetstats.advice.quoted import Quoter, reliability_low
from fleetstats.bands.bayes.beside import may_differ, mix_beside
from fleetstats.bands.caps import SURELY, estimate_beside, surely_above
from fleetstats.bands.interval import Interval
from fleetstats.bands.method import shape_prior
from fleetstats.bands.quantity import Quantity
from fleetstats.core.kept import Same, kept
from fleetstats.core.value import Array
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.placings import as_seen, every_placing, place_left_out
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.wording import at_most, count

NO_HOURS = "has no hours"
"""The commonest reason for which a failure is left out."""

MANY = {"has": "have", "is": "are", "was": "were"}
"""Verbs with which the reason for one failure opens, and the same for several."""

UNKNOWN_AGES = "it would rest on ages that nobody knows"


def placed_fleets(lives: Quoter) -> Iterator[Quoter]:
    """Yield the fleet with its failures left out placed in each way; none where none is."""
    for placed in _placings(lives.spells):
        yield as_looked_at(lives, _asked(lives, placed))


def _placings(spells: Spells) -> tuple[Spells, ...]:
    """Return the fleets of `every_placing`, made once; none where no failure is left out."""
    if not spells.left_out:
        return ()
    return kept(spells, "left out placed", lambda: tuple(every_placing(spells)))


def _fit_of(placed: Spells) -> Fit | None:
    return kept(placed, "fit of a placing", lambda: try_fit(placed))


def suppose_placed(lives: Quoter, position: float) -> Quoter:
    """Return the fleet with all failures left out at one position of `spells/placings.py`."""
    return _asked(lives, place_left_out(lives.spells, lives.spells.left_out, position))


def _asked(lives: Quoter, placed: Spells) -> Quoter:
    """Return a placed fleet to be asked as `lives` are."""
    settings = lives.settings
    seen = lives.spells if lives.recorded is None else lives.recorded
    reach = seen if lives.reach_from is None else lives.reach_from

    def make() -> Quoter:
        return Quoter.prepared(
            placed,
            None if lives.few else _fit_of(placed),
            settings,
            few=lives.few,
            recorded=_as_seen(seen),
            reach_from=reach,
            placed_from=lives.spells,
        )

    q = kept(placed, ("asked", Same(settings.evidence), settings.study.seed, lives.few), make)
    # it was made for these settings, but perhaps at another confidence or check interval
    return q.with_settings(settings)


def reaches_with_left_out(lives: Quoter, what: Quantity, target: float) -> bool:
    """Return whether the lower edge reaches `target` with the failures left out, however placed."""
    return all((x.low or 0.0) >= target for x in _lower_edges(lives, what))


def _lower_edges(lives: Quoter, what: Quantity) -> Iterator[Interval]:
    """Yield intervals with the lower edges of the placed fleets, or with one that none is below.

    The shapes left open and the engines counted are those of all placings. What differs is the
    estimate and the upper edge, which a lower one may not pass: only where one of them may lie
    below is a placing asked by itself.
    """
    fleets = _placings(lives.spells)
    if not lives.is_lower_alike:
        for q in placed_fleets(lives):
            yield q.lower_edge(what)
    elif fleets:
        # the first holds all of the failures, so that those with fewer have no worse edge
        low, out = _asked(lives, fleets[0]).uncapped(what)
        yield out
        for placed, allows in zip(fleets, _allow(lives, what, low), strict=True):
            if not allows:
                yield _asked(lives, placed).lower_edge(what)


def _allow(lives: Quoter, what: Quantity, low: float) -> list[bool]:
    """Return of each placing whether surely neither estimate nor upper edge lies below `low`."""
    fleets = _placings(lives.spells)
    prior = shape_prior(lives.settings.evidence)
    key = ("placed beside", prior.median, prior.log_sd, prior.stated)
    mixed = kept(lives.spells, key, lambda: mix_beside(fleets, prior))
    if mixed is None:
        return [False] * len(fleets)

    def over(placed: Spells) -> bool:
        fit = None if lives.few else _fit_of(placed)
        told = estimate_beside(fit, placed.n_failed, what, mixed.reference_h)
        return told is None or told * (1.0 - SURELY) >= low

    above = surely_above(mixed, what, low, margin=may_differ(mixed)).tolist()
    return [a and over(s) for a, s in zip(above, fleets, strict=True)]


def with_left_out(lives: Quoter, what: Quantity, *, own: Interval | None = None) -> Interval | None:
    """Return the quoted interval with the failures left out; None where none is.

    Parameters
    ----------
    lives : Quoter
        The fleet.
    what : Quantity
        A life or a reliability.
    own : Interval, optional
        The interval without them, where it is at hand.

    Returns
    -------
    Interval or None
        Its lower edge is the worst of all placings and of the one without them; no other edge.
    """
    left_out = lives.spells.left_out
    if not left_out:
        return None
    own = lives.interval(what) if own is None else own
    worst = min((own, *_lower_edges(lives, what)), key=lambda x: x.low or 0.0)
    ages = _least_favourable(count_left_out(left_out))
    return replace(
        worst,
        estimate=None,
        high=None,
        note_low=f"counting {say_further(left_out)} {ages}",
        note_high=UNKNOWN_AGES,
    )


def held_to_left_out(lives: Quoter, what: Quantity) -> Interval:
    """Return the quoted interval with its lower edge no better than with the failures left out."""
    own = lives.interval(what)
    held = with_left_out(lives, what, own=own)
    if held is None or own.low is None or (held.low is not None and held.low >= own.low):
        return own
    return replace(own, low=held.low, method=held.method, note_low=held.note_low)


def worth_with_left_out(spells: Spells, shapes: ArrayLike, hours: float) -> tuple[float, Array]:
    """Return the failures with those left out, and the (k,) equivalents that these leave.

    As `life_equivalents`, without the hours that a failure left out may have ended.
    """
    seen = _as_seen(spells) if spells.left_out else spells
    return spells.n_failed + spells.n_left_out, life_equivalents(seen, shapes, hours)


def reliability_low_with_left_out(
    spells: Spells, settings: Settings, hours: float, confidence: float
) -> float:
    """Return `reliability_low`, no better than with the failures left out, however placed.

    Nor than the doubt of the clocks allows.
    """

    def ask(at_h: float, sure: float) -> float:
        own = reliability_low(spells, settings, at_h, sure)
        if not spells.left_out:
            return own
        seen = _as_seen(spells)
        return min(own, reliability_low(spells, settings, at_h, sure, recorded=seen, left_out=True))

    return low_held_to_clocks(ask, spells, settings, hours, confidence)


def _as_seen(spells: Spells) -> Spells:
    """Return `as_seen` of spells, made once."""
    return kept(spells, "as seen", lambda: as_seen(spells))


def count_left_out(left_out: Iterable[LeftOut]) -> int:
    """Return how many failures are left out."""
    return sum(x.count for x in left_out)


def say_further(left_out: tuple[LeftOut, ...]) -> str:
    """Name the failures left out: "5 further failures without hours"."""
    told = "without hours" if _reasons(left_out) == {NO_HOURS} else "that no life counts"
    return f"{count(count_left_out(left_out), 'further failure')} {told}"


def say_left_out(left_out: tuple[LeftOut, ...]) -> str:
    """Say that failures are left out: "5 further failures have no hours"; blank if none is."""
    n = count_left_out(left_out)
    if n == 0:
        return ""
    reasons = _reasons(left_out)
    verb, _, rest = (reasons.pop() if len(reasons) == 1 else "is told by the records").partition(
        " "
    )
    return f"{count(n, 'further failure')} {verb if n == 1 else MANY.get(verb, verb)} {rest}"


def say_beside(clause: str, n: int, failure_high: float, accepted: float) -> str:
    """Say a bound that counts `n` failures left out, beside the one that does not.

    "5 further failures have no hours and are not in this figure: with them at their least
    favourable ages at most 4.1 %"; `clause` is that of `say_left_out`.
    """
    most = at_most(failure_high, accepted)
    are, them = ("is", "it") if n == 1 else ("are", "them")
    ages = _least_favourable(n)
    return f"{clause} and {are} not in this figure: with {them} {ages} at most {most}"


def say_counted(left_out: tuple[LeftOut, ...]) -> str:
    """Say that an answer in hours counts failures left out."""
    ages = _least_favourable(count_left_out(left_out))
    return f"The pessimistic figure counts {say_further(left_out)} {ages}; the others do not."


def _least_favourable(n: int) -> str:
    return f"at {'its' if n == 1 else 'their'} least favourable age{'' if n == 1 else 's'}"


def _reasons(left_out: tuple[LeftOut, ...]) -> set[str]:
    return {x.reason.strip().rstrip(".") or NO_HOURS for x in left_out}
