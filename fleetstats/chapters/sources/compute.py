"""What each source tells beside the others, and the answer without those that cannot be right."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fleetstats.advice.judge import accepted_failure, judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.sources.dropped import weigh_drop_off
from fleetstats.chapters.sources.values import DropOff, SideAnswer, SourceLine, Sources
from fleetstats.chapters.sources.words import (
    side_rows,
    source_cautions,
    source_line,
    sources_sentence,
)
from fleetstats.records.life import LifeRow
from fleetstats.spells import Event, Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.groups.equal_ages import EqualAges, compare_equal_ages
from fleetstats.survival.groups.rate_ratio import hold_over
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.limits import FAR_FEWER, HONEST_P, LEAST_OF_KIND
from fleetstats.vocabulary.wording import listed


def advise_sources(
    spells: Spells, fit: Fit | None, settings: Settings, rows: Sequence[LifeRow] = ()
) -> Sources | None:
    """Return the chapter on sources; None with one source that no engine dropped off.

    Parameters
    ----------
    spells : Spells
        Lives for the study's question.
    fit : Fit or None
        Weibull fit of them.
    settings : Settings
        Claim, targets, confidence, days after which a reading is stale.
    rows : sequence of LifeRow
        The life behind each spell, in the same order; without them no engine can be missed.
    """
    lines = weigh_sources(spells, settings, rows)
    if len(lines) < 2 and not any(x.drop_off is not None and x.drop_off.n for x in lines):
        return None
    out = Sources(
        lines=lines,
        sides=_sides(spells, fit, settings, [x.source for x in lines if x.odd]),
        claimed_h=settings.study.claimed_interval_h,
        accepted_failure=accepted_failure(settings),
        target=settings.targets.reliability,
        level=settings.study.confidence,
        sentence="",
    )
    return replace(
        out,
        sentence=sources_sentence(out),
        told=(
            *(source_line(x) for x in lines),
            *(f"{who}: {what}" for who, what in side_rows(out)),
        ),
        cautions=source_cautions(out),
    )


def weigh_sources(
    spells: Spells, settings: Settings, rows: Sequence[LifeRow] = ()
) -> tuple[SourceLine, ...]:
    """Return each source beside the others, with its chances held over all sources.

    Notes
    -----
    Half of the chance of a false alarm goes to sources that tell too few failures, which is what
    makes a claim look better than it is; the other half to those of which every life failed
    (hypergeometric: Fisher 1935) and those whose engines drop off with many hours. Each half is
    held over its tests (Holm 1979).
    """
    names = np.unique(spells.source).tolist()
    aligned = len(rows) == len(spells) and not settings.hours.carry_to_analysis_date
    lines = []
    for name in names:
        mine = spells.source == name
        failed = (spells.event == Event.FAILED) | (spells.event == Event.COMPETING)
        drop = None
        if aligned:
            own = [r for r, m in zip(rows, mine.tolist(), strict=True) if m]
            drop = weigh_drop_off(own, settings.hours.stale_days)
        beside = None
        if len(names) > 1:
            beside = compare_equal_ages(spells, mine, level=settings.study.confidence)
        lines.append(
            SourceLine(
                source=name,
                n=float(spells.weight[mine].sum()),
                n_ended_failed=float(spells.weight[mine & failed].sum()),
                beside=beside,
                drop_off=drop,
                p_fewer=_p_fewer(beside),
                p_all=None,
                p_drop=_p_drop(drop),
            )
        )
    return _held([replace(x, p_all=_p_all(x, lines)) for x in lines])


def _p_fewer(beside: EqualAges | None) -> float | None:
    return None if beside is None or beside.n_compared == 0.0 else beside.p_fewer


def _p_drop(drop: DropOff | None) -> float | None:
    return None if drop is None or drop.n_ranked < LEAST_OF_KIND else drop.p


def _p_all(line: SourceLine, lines: Sequence[SourceLine]) -> float | None:
    """Return the chance that all lives of a source are among those that failed; None if not."""
    if len(lines) < 2 or line.n < LEAST_OF_KIND or line.n_ended_failed < line.n:
        return None
    n, failed = (sum(getattr(x, f) for x in lines) for f in ("n", "n_ended_failed"))
    lost = [math.lgamma(x + 1.0) for x in (failed, n - line.n, failed - line.n, n)]
    return min(math.exp(lost[0] + lost[1] - lost[2] - lost[3]), 1.0)


def _held(lines: Sequence[SourceLine]) -> tuple[SourceLine, ...]:
    """Return the lines with chances held over their number, and with what is odd."""
    held: dict[tuple[int, str], float] = {}
    for half in (("p_fewer",), ("p_all", "p_drop")):
        made = [
            (i, f, p) for f in half for i, x in enumerate(lines) if (p := getattr(x, f)) is not None
        ]
        # a test not made counts as one that found nothing: every source could have been odd
        rest = [1.0] * (len(half) * len(lines) - len(made)) if len(lines) > 1 else []
        chances = hold_over([p for _, _, p in made] + rest).tolist()
        held |= {(i, f): min(1.0, 2.0 * p) for (i, f, _), p in zip(made, chances, strict=False)}
    out = []
    for i, x in enumerate(lines):
        told = {f: held.get((i, f)) for f in ("p_fewer", "p_all", "p_drop")}
        p_fewer, p_all, p_drop = told.values()
        new = replace(x, p_fewer=p_fewer, p_all=p_all, p_drop=p_drop, odd=_odd(x, told))
        out.append(new)
    return tuple(out)


def _odd(x: SourceLine, held: dict[str, float | None]) -> tuple[str, ...]:
    below = {f for f, p in held.items() if p is not None and p < HONEST_P}
    out = []
    if "p_fewer" in below and x.beside is not None:
        if x.beside.n == 0.0:
            out.append("silent")
        elif x.beside.high is not None and x.beside.high < FAR_FEWER:
            out.append("fewer")
    if "p_all" in below:
        out.append("all-failed")
    if "p_drop" in below:
        out.append("drops-off")
    return tuple(out)


def _sides(
    spells: Spells, fit: Fit | None, settings: Settings, odd: list[str]
) -> tuple[SideAnswer, ...]:
    """Return the answer with all sources, without each odd one, and without all of them."""
    if not odd or len(np.unique(spells.source)) < 2:
        return ()
    out = [_side("", spells, fit, settings)]
    groups = [[name] for name in odd] + ([odd] if len(odd) > 1 else [])
    for left_out in groups:
        rest = spells.select(~np.isin(spells.source, left_out))
        if len(rest):
            name = listed([x or "source not given" for x in left_out])
            out.append(_side(name, rest, try_fit(rest), settings))
    return tuple(out)


def _side(without: str, spells: Spells, fit: Fit | None, settings: Settings) -> SideAnswer:
    lives = Quoter.of(spells, fit, settings)
    claim = settings.study.claimed_interval_h
    judged = None
    if claim is not None:
        judged = judge_claim(lives, claim, 1.0 - accepted_failure(settings))
    return SideAnswer(
        without=without,
        n=float(spells.weight.sum()),
        n_failed=spells.n_failed,
        hours=lives.interval(Quantity.life(1.0 - settings.targets.reliability)).low or 0.0,
        failure_high=None if judged is None else judged.failure_high,
        verdict="" if judged is None else judged.word,
    )
