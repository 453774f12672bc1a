"""Whom to ring up for a fresh reading: the calls that would move the claim, and by how much."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fleetstats.advice.judge import Judgement, accepted_failure, claim_asked, judge_claim
from fleetstats.advice.looks.at_look import settings_at_look
from fleetstats.advice.quoted import Quoter
from fleetstats.chapters.calls.answers import answered
from fleetstats.chapters.calls.values import Call, CallLine, CallList, Together
from fleetstats.chapters.calls.weigh import CallWeighing, Chosen, Rule, draw_bad_news
from fleetstats.chapters.calls.whom import Askable, Whom, find_asked, own_meters
from fleetstats.chapters.calls.words import assumption_words, list_sentence
from fleetstats.chapters.chapter import Base
from fleetstats.core.arguments import wrong_kind
from fleetstats.core.errors import SettingError
from fleetstats.core.gate import HOURS_ABOVE_0, ArgumentKind, counted, gate, one_of
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.fold import fold

MOST = 20
"""Calls chosen together unless asked otherwise: an evening's work (our own choice, no source)."""

BAD_DRAWS = 48
"""Answers with bad news that are drawn; the error that they leave is told."""

BY = ("engine", "owner")


def _base(given: object, name: str) -> object:
    lives, settings = getattr(given, "spells", None), getattr(given, "settings", None)
    if isinstance(lives, Spells) and isinstance(settings, Settings):
        return given
    right = "Give a study's lives and records, as read_base(study) of studies.single does."
    raise wrong_kind(name, given, right)


BASE = ArgumentKind(word="object", check=_base)


@gate(base=BASE, hours=HOURS_ABOVE_0.or_none, most=counted(1), by=one_of(*BY))
def list_calls(
    base: Base, *, hours: float | None = None, most: int = MOST, by: str = "engine"
) -> CallList:
    """Return whom to ask for a fresh reading, ranked by how much it would move the bound.

    Parameters
    ----------
    base : Base
        A study's lives and records.
    hours : float, optional
        Hours of the claim; default the study's.
    most : int
        Calls chosen and worked out together.
    by : {"engine", "owner"}
        Whether a call asks about one engine, or about all engines of one source.

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for.
    SettingError
        If no hours are claimed, or there is no analysis date.

    Examples
    --------
    >>> from fleetstats.studies.single import read_base
    >>> import fleetstats as fs
    >>> base = read_base(fs.read_study("datasets/quiet-fleet"))
    >>> calls = list_calls(base, hours=1500.0, most=3)
    >>> calls.state, len(calls.lines), calls.together.n
    ('listed', 260, 3)
    """
    return calls_of(base, find_asked(base), hours=hours, most=most, by=by)


def calls_of(
    base: Base, whom: Whom, *, hours: float | None = None, most: int = MOST, by: str = "engine"
) -> CallList:
    """Return the same, of those who can be asked (`find_asked`), where these are at hand."""
    settings = base.settings
    hours, target = claim_asked(settings, hours, None)
    if settings.study.analysis_date is None:
        raise SettingError(
            "The study has no analysis date, so no reading can be told to be old.",
            "Set study.analysis_date.",
        )
    judged = _judge(base.spells, settings, hours, target)
    out = CallList(
        state="nothing-to-ask",
        sentence="",
        by=by,
        hours=hours,
        target=target,
        high_now=_high(judged),
        word_now=judged.word,
        calls=(),
        lines=(),
        together=None,
        unread_h=float(sum(x.unread_h for x in whom.asked)),
        assumptions=(),
    )
    if whom.asked:
        out = _listed(out, base, whom, most)
    accepted = accepted_failure(settings)
    return replace(
        out, sentence=list_sentence(out, accepted), assumptions=assumption_words(out, whom)
    )


def _listed(out: CallList, base: Base, whom: Whom, most: int) -> CallList:
    settings = settings_at_look(base.settings)
    names, parties = parties_of(whom.asked, out.by)
    rule = Rule(
        settings=settings, hours=out.hours, confidence=0.5 * (1.0 + settings.study.confidence)
    )
    by_rule = rule.of(base.spells)
    rule = replace(rule, scale=out.high_now / by_rule if by_rule > 0.0 else 1.0)
    weighing = CallWeighing(base.spells, whom.asked, parties, rule)
    chosen = weighing.choose(most)
    meters = own_meters(whom.asked, base.settings)
    calls, lines = [], []
    for n, c in enumerate(chosen, start=1):
        which = parties[c.party]
        calls.append(_call(n, names[c.party], c, which, weighing))
        lines += [_line(n, weighing, int(i), meters[i]) for i in which]
    first = np.concatenate([parties[c.party] for c in chosen[:most]])
    return replace(
        out,
        state="listed",
        calls=tuple(calls),
        lines=tuple(lines),
        together=_together(out, base.settings, weighing, min(most, len(chosen)), first),
    )


def parties_of(asked: tuple[Askable, ...], by: str) -> tuple[list[str], list[Array]]:
    """Return the names of the parties to ask, and the numbers of the engines of each."""
    if by == "engine":
        return [x.engine for x in asked], [np.array([i]) for i in range(len(asked))]
    found: dict[str, tuple[str, list[int]]] = {}
    for i, x in enumerate(asked):
        found.setdefault(fold(x.source), (x.source, []))[1].append(i)
    return [n for n, _ in found.values()], [np.array(w) for _, w in found.values()]


def _judge(spells: Spells, settings: Settings, hours: float, target: float) -> Judgement:
    return judge_claim(Quoter.of(spells, try_fit(spells), settings), hours, target)


def _high(judged: Judgement) -> float:
    """Return the bound that decides: the one with the failures left out, where there are any."""
    held = judged.failure_high_with_left_out
    return judged.failure_high if held is None else max(judged.failure_high, held)


def _call(n: int, name: str, c: Chosen, which: Array, weighing: CallWeighing) -> Call:
    engines = [weighing.asked[i] for i in which]
    return Call(
        call=n,
        name=name,
        source=engines[0].source,
        n_engines=len(engines),
        unread_h=float(sum(x.unread_h for x in engines)),
        chance_bad=weighing.chance_bad_of(which),
        change=c.change,
        high_if_good=c.high_if_good,
        chance_bad_so_far=c.chance_bad,
    )


def _line(n: int, weighing: CallWeighing, i: int, own: tuple[str, float]) -> CallLine:
    x, (meter, factor) = weighing.asked[i], own
    start_h = 0.0 if x.row is None else x.row.life_start_h
    return CallLine(
        call=n,
        engine=x.engine,
        source=x.source,
        build=x.build,
        kind=x.kind,
        known_h=None if x.row is None else round((start_h + x.from_h) / factor, 1),
        known_on=None if x.row is None else x.row.last_date,
        in_service=x.in_service,
        overhauled_at_h=round(start_h / factor, 1) if start_h else None,
        meter=meter,
        use_h=x.use_h,
        use_from=x.use_from,
        unread_h=x.unread_h,
        expected_h=None if x.left_out is not None else (start_h + x.to_h) / factor,
        chance_bad=float(weighing.each_bad[i]),
    )


def _together(
    out: CallList, settings: Settings, weighing: CallWeighing, n: int, which: Array
) -> Together:
    """Return what the first calls may show together, over the answers that they may bring."""
    good = _judge(weighing.good(which), settings, out.hours, out.target)
    if_good, bad = _high(good), weighing.chance_bad(which)
    if_bad, error = if_good, 0.0
    if bad > 0.0:
        rng = stream(settings.study.seed, "calls")
        asked = [weighing.asked[i] for i in which]
        drawn = draw_bad_news(weighing.laws, weighing, which, BAD_DRAWS, rng)
        high = [weighing.rule.of(answered(weighing.spells, asked, *d)) for d in drawn]
        if_bad = float(np.mean(high))
        error = bad * float(np.std(high, ddof=1)) / np.sqrt(len(high))
    return Together(
        n=n,
        expected=(1.0 - bad) * if_good + bad * if_bad,
        error=error,
        chance_bad=bad,
        if_good=if_good,
        if_bad=if_bad,
        word_if_good=good.word,
    )
