"""The answer at settings that somebody tries: the same chain as at a prompt, on lives at hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fleetstats.advice.advice import Advice
from fleetstats.advice.judge import claim_asked
from fleetstats.chapters.claim import Claim, advise_claim, qualify_claim
from fleetstats.core.errors import SettingError
from fleetstats.desk.words import words
from fleetstats.records.life import LifeRow
from fleetstats.studies.single import LightBase
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.fold import fold


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """Settings that somebody tries in place of the study's; None leaves the study's.

    Parameters
    ----------
    hours : float or None
        Claimed hours.
    confidence : float or None
        Two-sided, within 0 to 1.
    accepted : float or None
        Accepted chance of the failure by the claimed hours, within 0 to 1.
    check_h : float or None
        Hours between checks.
    """

    hours: float | None = None
    confidence: float | None = None
    accepted: float | None = None
    check_h: float | None = None

    @property
    def keys(self) -> dict[tuple[str, str], float]:
        """Return what is tried as keys of the study file."""
        told = {
            ("study", "claimed_interval_h"): self.hours,
            ("study", "confidence"): self.confidence,
            ("targets", "accepted_failure_at_claim"): self.accepted,
            ("check", "interval_h"): self.check_h,
        }
        return {k: v for k, v in told.items() if v is not None}

    def over(self, settings: Settings) -> Settings:
        """Return settings with what is tried in place of theirs."""
        for (table, key), told in self.keys.items():
            changed = replace(getattr(settings, table), **{key: told})
            settings = replace(settings, **{table: changed})
        return settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """What came out: the claim, where hours are claimed, the advice, and what qualifies both."""

    claim: Claim | None
    advice: Advice
    cautions: tuple[Caution, ...]
    settings: Settings


def base_at(base: LightBase, tried: Tried) -> LightBase:
    """Return a study's lives with settings that are tried in place of its own."""
    return base.under(tried.over(base.settings))


def answer_at(base: LightBase, tried: Tried) -> Answered:
    """Return the answer of a study's lives at settings that are tried.

    Raises
    ------
    FleetstatsError
        As the verb `claim` does.
    """
    from fleetstats.advice.advise import advise_hours
    from fleetstats.studies.single import cautions_at

    there = base_at(base, tried)
    settings = there.settings
    advice = advise_hours(base.spells, base.fit, settings)
    if settings.study.claimed_interval_h is None:
        found = cautions_at(there, None, advice=advice)
        return Answered(claim=None, advice=advice, cautions=found, settings=settings)
    claim = _claim(there)
    found = cautions_at(there, claim.hours, advice=advice)
    claim = qualify_claim(claim, settings, found)
    return Answered(claim=claim, advice=advice, cautions=found, settings=settings)


def _claim(base: LightBase) -> Claim:
    return advise_claim(base.spells, base.settings, fit=base.fit, asserted=base.built.asserted)


@dataclass(frozen=True, slots=True, kw_only=True)
class OneMore:
    """The claim if one engine in service failed now: the engine, and what would then be said."""

    engine: str
    hours: float
    claim: Claim
    counts: bool


def builds_in_service(base: LightBase) -> tuple[str, ...]:
    """Return the builds of engines in service, as written; blank where a row says none."""
    return tuple(sorted({x.build for x in base.audit.used if x.ending == "running"}))


def one_more(base: LightBase, build: str, cause: str, tried: Tried) -> tuple[OneMore, ...]:
    """Return the claim if one more engine of a build failed now, the least favourable first.

    Which engine it will be nobody knows, so the youngest, a middle and the oldest of those in
    service are tried. The first of those returned says what is open about it, as a claim does.

    Raises
    ------
    SettingError
        If no hours are claimed, or no engine of the build is in service.
    """
    from fleetstats.studies.single import cautions_at

    tried_base = base_at(base, tried)
    settings = tried_base.settings
    claim_asked(settings, None, None)
    lives = [i for i, x in enumerate(base.audit.used)
             if x.ending == "running" and fold(x.build) == fold(build)]  # fmt: skip
    if not lives:
        raise SettingError(words("answer", "none_in_service", build=build))
    lives.sort(key=lambda i: base.audit.used[i].exit_h)
    found: list[tuple[OneMore, LightBase]] = []
    for i in dict.fromkeys((lives[0], lives[len(lives) // 2], lives[-1])):
        life = base.audit.used[i]
        anew = _failed(tried_base, i, cause)
        more = OneMore(
            engine=life.engine, hours=life.exit_h, claim=_claim(anew),
            counts=anew.spells.n_failed > base.spells.n_failed,
        )  # fmt: skip
        found.append((more, anew))
    found.sort(key=lambda x: -x[0].claim.failure_high)
    worst, there = found[0]
    told = qualify_claim(worst.claim, settings, cautions_at(there, worst.claim.hours))
    return (replace(worst, claim=told), *(x for x, _ in found[1:]))


def _failed(base: LightBase, at: int, cause: str) -> LightBase:
    """Return the base as it were had the engine of one life failed at its last reading."""
    from fleetstats.studies.analyse import build_lives
    from fleetstats.studies.single import base_of

    used: Sequence[LifeRow] = base.audit.used
    life = used[at]
    gone = replace(life, ending="failed", cause=cause, confirmed=True, count=1)
    left = [replace(life, count=life.count - 1)] if life.count > 1 else []
    audit = replace(base.audit, used=(*used[:at], gone, *left, *used[at + 1 :]))
    built = build_lives(base.study, base.records, audit)
    return base_of(base.study, base.records, audit, built)
