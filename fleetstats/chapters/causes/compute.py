"""Advice by cause: what overhaul can mend, what a redesign would buy, what unknown causes hide.

An overhaul renews what it renews. Failures whose cause it does not touch say nothing of the hours
at which to overhaul, so the advice is given again for the causes that it mends alone: once with all
failures of unknown cause counted in, once with none, once with a share of them.
"""

from __future__ import annotations

import numpy as np

from fleetstats.advice.key_figures import COMPARED_RESAMPLES, AdviceFigure, Advising, advising
from fleetstats.advice.mended import all_mended
from fleetstats.advice.quoted import quoted_interval
from fleetstats.bands.in_use import ask_band
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.causes.values import CauseLine, Causes, RenewedAdvice, WithoutCause
from fleetstats.chapters.causes.words import causes_sentence
from fleetstats.core.units import text_percent
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.counting.incidence import Incidence, estimate_incidence
from fleetstats.survival.groups.causes import (
    ALLOCATIONS,
    UNKNOWN,
    CauseFit,
    allocate_unknown,
    cause_of,
    count_as,
    fit_causes,
)
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE, UNKNOWN_CAUSE_SHARE
from fleetstats.vocabulary.wording import hours_down, hours_near, listed


def advise_causes(
    spells: Spells, settings: Settings, *, advise: Advising | None = None, most: int = 3
) -> Causes | None:
    """Return the chapter on causes; None when no failure has a known cause.

    Parameters
    ----------
    spells : Spells
        Lives for the study's question, causes kept.
    settings : Settings
        Targets, causes that overhaul does not renew, confidence.
    advise : callable, optional
        Lives to figures; the study's own advice, with fewer resamples, by default.
    most : int
        Causes for which the answer without them is worked out, those with most failures first.
    """
    label = cause_of(spells)
    named = [c for c in sorted(np.unique(label[label != ""]).tolist(), key=fold) if c != UNKNOWN]
    if not named:
        return None
    # what is not renewed counts here, so that the band without it can be set beside
    every = all_mended(settings)
    figure = advising(every, resamples=COMPARED_RESAMPLES) if advise is None else advise
    fits = fit_causes(spells, not_renewed=settings.question.not_renewed_causes)
    incidence = estimate_incidence(spells, label)
    asked = spells.failed
    lines = tuple(_line(c, spells, label, incidence, settings) for c in fits)
    base = figure(spells)
    without = tuple(
        _without(line.cause, spells, label, settings, base, figure)
        for line in [x for x in lines if x.in_question and x.cause != UNKNOWN][:most]
        if bool((asked & (label != line.cause)).any()) or asked.any()
    )
    renewed = _renewed(spells, label, fits, figure)
    n_unknown = float(spells.weight[asked & (label == UNKNOWN)].sum())
    return Causes(
        lines=lines,
        incidence=incidence,
        fits=fits,
        base=base,
        renewed=renewed,
        without=without,
        n_unknown=n_unknown,
        sentence=causes_sentence(lines, renewed, n_unknown, spells),
        supported_h=spells.horizon_h(least=settings.evidence.min_at_risk),
        cautions=(
            *_not_renewed(lines, base, spells.n_failed),
            *_cautions(lines, without, n_unknown, spells.n_failed),
        ),
    )


def _line(
    c: CauseFit, spells: Spells, label: np.ndarray, incidence: Incidence, settings: Settings
) -> CauseLine:
    lives = count_as(spells, label == c.cause)
    shape = None
    if c.fit is not None and c.n_failed >= FEW_FOR_SHAPE:
        shape = ask_band(lives, c.fit, Quantity.shape(), settings)
    at = spells.horizon_h(least=settings.evidence.min_at_risk) or spells.oldest_h
    what = Quantity.life(1.0 - settings.targets.reliability)

    def with_unknown(how: str) -> Interval | None:
        if c.cause == UNKNOWN or not (label == UNKNOWN).any():
            return None
        got = allocate_unknown(spells, label == c.cause, how)
        return None if got is None else quoted_interval(got[0], try_fit(got[0]), what, settings)

    return CauseLine(
        cause=c.cause,
        n_failed=c.n_failed,
        in_question=bool((spells.failed & (label == c.cause)).any()),
        renewed=c.renewed,
        shape=shape,
        life=quoted_interval(lives, c.fit, what, settings),
        life_shared=with_unknown("proportional"),
        life_all=with_unknown("all"),
        share=float(incidence.at(c.cause, [at])[0]),
        share_error=float(incidence.std_error_at(c.cause, [at])[0]),
        share_h=at,
    )


def _without(
    cause: str,
    spells: Spells,
    label: np.ndarray,
    settings: Settings,
    base: AdviceFigure,
    figure: Advising,
) -> WithoutCause:
    rest = count_as(spells, spells.failed & (label != cause))
    rest = rest.with_left_out(x for x in spells.left_out if fold(x.cause) != fold(cause))
    got = figure(rest)
    b = 100.0 * (1.0 - settings.targets.reliability)
    n = spells.n_failed - rest.n_failed
    return WithoutCause(
        cause=cause,
        figure=got,
        change_h=base.change_h(got),
        sentence=(
            f"Without '{cause}' ({n:g} of {spells.n_failed:g} failures) the B{b:.3g} life would "
            f"be {_edges(got)} instead of {_edges(base)}, if the causes strike independently."
        ),
    )


def _edges(figure: AdviceFigure) -> str:
    middle = "not estimable" if figure.life_h is None else f"about {hours_near(figure.life_h)}"
    bound = figure.life_low_h
    low = "no lower bound" if bound is None else f"at least {hours_down(bound)}"
    return f"{middle} ({low})"


def _renewed(
    spells: Spells, label: np.ndarray, fits: tuple[CauseFit, ...], figure: Advising
) -> tuple[RenewedAdvice, ...]:
    spared = {fold(c.cause) for c in fits if not c.renewed}
    unknown = spells.failed & (label == UNKNOWN)
    not_mended = np.array([fold(c) in spared for c in label.tolist()], dtype=bool)
    if not unknown.any() and not (spells.failed & not_mended).any():
        return ()
    wanted = spells.failed & ~not_mended & ~unknown
    # Failures of another question stay what they are, whatever is done with unknown ones here.
    own = spells.replace(
        cause=np.where(~spells.failed & (label == UNKNOWN), "not in question", spells.cause)
    )
    out = []
    for how, reading in ALLOCATIONS.items():
        if how != "all" and not unknown.any():
            continue
        got = allocate_unknown(own, wanted, how)
        out.append(
            RenewedAdvice(
                how=how,
                reading=reading if unknown.any() else "no failure is of unknown cause",
                n_unknown_counted=0.0 if got is None else got[1],
                figure=None if got is None else figure(got[0]),
            )
        )
    return tuple(out)


def _not_renewed(
    lines: tuple[CauseLine, ...], base: AdviceFigure, n_failed: float
) -> tuple[Caution, ...]:
    """Say that the hours leave out what overhaul does not mend, and what they would be with it."""
    spared = [x for x in lines if x.in_question and not x.renewed and x.cause != UNKNOWN]
    if not spared:
        return ()
    told = _band(base)
    return (
        caution(
            "not-renewed" if told else "not-renewed/no-band",
            value=f"{sum(x.n_failed for x in spared):g} of {n_failed:g} failures",
            causes=listed([x.cause for x in spared]),
            band=told,
        ),
    )


def _band(figure: AdviceFigure) -> str:
    first, last = figure.plan_from_h, figure.not_beyond_h
    if first is None:
        return ""
    return f"{hours_down(first)}" + ("" if last is None else f" to {hours_down(last)}")


def _cautions(
    lines: tuple[CauseLine, ...],
    without: tuple[WithoutCause, ...],
    n_unknown: float,
    n_failed: float,
) -> tuple[Caution, ...]:
    out = []
    few = [x for x in lines if x.n_failed < FEW_FOR_SHAPE and x.cause != UNKNOWN]
    if few:
        out.append(
            caution(
                "few-failures/causes",
                value=", ".join(f"{x.cause} {x.n_failed:g}" for x in few),
                limit=f"{FEW_FOR_SHAPE} failures",
            )
        )
    if n_unknown and n_unknown > UNKNOWN_CAUSE_SHARE * n_failed:
        out.append(
            caution(
                "cause-unknown",
                value=f"{n_unknown:g} of {n_failed:g} failures",
                limit=text_percent(UNKNOWN_CAUSE_SHARE),
            )
        )
    if without:
        out.append(caution("independent-causes"))
    return tuple(out)
