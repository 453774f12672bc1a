"""The rule tried on fleets made up on the design of one in hand, under stated truths.

No second rule: each fleet is fitted and judged by `advice/judge.py`, as a study is. Fleet i of a
truth has a random stream of its own, so that neither blocks nor workers nor the number of fleets
move any of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fleetstats.advice.judge import accepted_failure, judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.in_use import is_few
from fleetstats.chapters.stress.calendar import recent_from
from fleetstats.chapters.stress.signs import SIGNS
from fleetstats.chapters.stress.values import Stress, StressedTruth
from fleetstats.chapters.stress.words import stress_sentence
from fleetstats.core.crew import Crew, do_work
from fleetstats.core.errors import SettingError
from fleetstats.core.seeds import stream
from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.spells.heaping import widen_rounded
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.simulated.draw import draw_fleet
from fleetstats.survival.simulated.truths import TRUTHS, MadeTruth, Scaled, scale_to
from fleetstats.survival.simulated.watch import Watch, watch_of
from fleetstats.survival.weibull.fit_weibull import try_fit

DEFAULT_FLEETS = 400
"""Fleets to a truth: a share of 5 % is then known to within about 2 points."""

BLOCK = 20
"""Fleets to a task."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetBlock:
    """Some fleets of one truth, with all that a worker needs."""

    truth: int
    name: str
    scaled: Scaled
    first: int
    last: int
    watch: Watch
    settings: Settings
    hours: float
    target: float


@dataclass(frozen=True, slots=True)
class FleetSaid:
    """What was said of one fleet: the verdict's word, the signs seen, failures recorded."""

    word: str
    signs: tuple[bool, ...]
    failures: float


def try_fleets(block: FleetBlock) -> tuple[FleetSaid, ...]:
    """Make up the fleets of a block and judge each."""
    out = []
    for i in range(block.first, block.last):
        spells = made_fleet(block, i)
        fit = try_fit(spells)
        lives = Quoter.of(spells, fit, block.settings)
        word = judge_claim(lives, block.hours, block.target).word
        seen: tuple[bool, ...] = ()
        if word == "supported":
            seen = tuple(sign(spells, fit, block.settings) for _, sign in SIGNS)
        out.append(FleetSaid(word, seen, spells.n_failed))
    return tuple(out)


def made_fleet(block: FleetBlock, i: int) -> Spells:
    """Return fleet `i` of a truth, read as the study reads its own."""
    rng = stream(block.settings.study.seed, f"stress {block.name}", i)
    spells = draw_fleet(block.watch, TRUTHS[block.truth], block.scaled, rng)
    if block.settings.hours.rounded != "interval":
        return spells
    return widen_rounded(spells, but_not=(block.hours,)).spells


def stress_claim(
    spells: Spells,
    rows: Sequence[LifeRow],
    fit: Fit | None,
    settings: Settings,
    *,
    fleets: int = DEFAULT_FLEETS,
    crew: Crew | None = None,
    told: Callable[[int, int], None] | None = None,
) -> Stress:
    """Try the study's claim on fleets made up on its own design.

    Parameters
    ----------
    spells, rows : Spells, sequence of LifeRow
        The lives and the rows behind them.
    fit : Fit or None
        Weibull fit of them.
    settings : Settings
        Claim, accepted chance, seed and all that the verdict hangs on.
    fleets : int
        To each truth.
    crew : Crew, optional
        Who does the work; this process when left out.
    told : callable, optional
        Told (tasks done, tasks) as the work goes.

    Raises
    ------
    SettingError
        If nothing is claimed, or no fleet is asked for.
    SpellError
        If the table holds no single lives, or too many.
    """
    hours = settings.study.claimed_interval_h
    if hours is None:
        raise SettingError(
            "No interval is claimed, so there is no claim to try.",
            "Set study.claimed_interval_h in study.toml.",
        )
    if fleets < 1:
        raise SettingError(f"{fleets} fleets.", "Ask for 1 or more.")
    accepted = accepted_failure(settings)
    change, told_change = recent_from(rows, settings)
    watch = watch_of(spells, change)
    shape, shape_from = _shape(spells, fit, settings)
    asked = [i for i, t in enumerate(TRUTHS) if not t.checks_only or watch.checked > 0.0]
    cases = [(i, accepted) for i in asked] + [(0, 0.5 * accepted)]
    blocks = [
        FleetBlock(
            truth=i, name=f"{TRUTHS[i].key} {chance:.6g}", first=a,
            scaled=scale_to(TRUTHS[i], chance, hours, shape), last=min(a + BLOCK, fleets),
            watch=watch, settings=settings, hours=hours, target=1.0 - accepted,
        )
        for i, chance in cases
        for a in range(0, fleets, BLOCK)
    ]  # fmt: skip
    done: dict[int, tuple[FleetSaid, ...]] = {}
    for k, said in do_work(try_fleets, blocks, crew):
        done[k] = said
        if told is not None:
            told(len(done), len(blocks))
    per = math.ceil(fleets / BLOCK)
    found = [
        _counted(TRUTHS[i], chance, [s for k in range(j * per, (j + 1) * per) for s in done[k]])
        for j, (i, chance) in enumerate(cases)
    ]
    out = Stress(
        hours=hours,
        accepted=accepted,
        promised=0.5 * (1.0 - settings.study.confidence),
        shape=shape,
        shape_from=shape_from,
        fleets=fleets,
        seed=settings.study.seed,
        n_lives=len(watch.spells),
        truths=tuple(found[:-1]),
        better=found[-1],
        signs=tuple(name for name, _ in SIGNS),
        change=told_change,
        left_out=tuple(t.title for i, t in enumerate(TRUTHS) if i not in asked),
        sentence="",
    )
    return replace(out, sentence=stress_sentence(out))


def _shape(spells: Spells, fit: Fit | None, settings: Settings) -> tuple[float, str]:
    """Return the shape to make lives with, and where it is from."""
    if fit is not None and not is_few(spells, fit):
        return float(fit.shape), "as fitted"
    low, high = min(settings.evidence.shapes), max(settings.evidence.shapes)
    return float(np.sqrt(low * high)), "the middle of the shapes assumed, since few failed"


def _counted(truth: MadeTruth, chance: float, said: Sequence[FleetSaid]) -> StressedTruth:
    shown = [s for s in said if s.word == "supported"]
    return StressedTruth(
        key=truth.key,
        title=truth.title,
        when=truth.when,
        chance=chance,
        fleets=len(said),
        supported=len(shown),
        contradicted=sum(s.word == "contradicted" for s in said),
        signs=tuple(sum(s.signs[k] for s in shown) for k in range(len(SIGNS))),
        any_sign=sum(any(s.signs) for s in shown),
        failures=float(np.mean([s.failures for s in said])),
    )
