"""Makers of cautions on what is assumed, set or asserted; see `caution_makers`.

Limits are our own choice or common practice, no source; figures are invented.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from advice_fleets import made_rows, made_settings
from caution_makers import NS, fleet, maker

from fleetstats.advice.doubts.values import PriorWeight
from fleetstats.bands.interval import Interval
from fleetstats.chapters.cautions import assertions
from fleetstats.records.rules import CAUSE_UNKNOWN
from fleetstats.spells import Spells
from fleetstats.spells.asserted import Asserted, LivesTold
from fleetstats.vocabulary.caution import Caution


def _weighed(
    word: str,
    high: float,
    alone: float,
    low: float = 0.0,
    low_alone: float = 0.0,
    refused: str = "",
) -> Iterable[Caution]:
    """Return the caution on a stated prior, where 10 % are accepted."""
    weight = PriorWeight(
        stated="prior", hours=1200.0, high=high, high_default=alone, high_alone=alone,
        low=low, low_default=low_alone, low_alone=low_alone, alone="by their likelihood",
    )  # fmt: skip
    verdict = NS(
        word=word, refused=refused, prior_weight=weight, accepted_failure=0.1, claimed_h=1200.0,
        reliability=None,
    )  # fmt: skip
    settings = made_settings(evidence={"prior_source": "comparable engines"})
    return assertions.caution_assumed_shape(settings, NS(verdict=verdict))  # type: ignore[arg-type]


@maker("prior-against-data/refused")
def _(over: bool) -> Iterable[Caution]:
    """0.0959 of 0.12 is moved by 20.1 %; what does not reach the target makes no word at all."""
    if over:
        return _weighed("not-yet-shown", 0.0959, 0.12, refused="prior-moved")
    return _weighed("not-yet-shown", 0.13, 0.14)


@maker("prior-against-data/carried")
def _(over: bool) -> Iterable[Caution]:
    return _weighed("supported", 0.099, 0.101 if over else 0.1)


@maker("prior-against-data/moved")
def _(over: bool) -> Iterable[Caution]:
    return _weighed("supported", 0.0399 if over else 0.0401, 0.05)


@maker("prior-against-data/hidden")
def _(over: bool) -> Iterable[Caution]:
    return _weighed("not-yet-shown", 0.2, 0.3, low=0.08, low_alone=0.101 if over else 0.1)


@maker("prior-against-data/outside")
def _(over: bool) -> Iterable[Caution]:
    r = Interval(
        name="reliability", estimate=0.9, low=0.95, high=0.97, level=0.9, method="shape-mixture",
        unit="probability",
    )  # fmt: skip
    verdict = NS(refused="estimate-outside" if over else "", reliability=r, word="not-yet-shown")
    return assertions.caution_assumed_shape(made_settings(), NS(verdict=verdict))  # type: ignore[arg-type]


@maker("prior-driven/stated")
def _(over: bool) -> Iterable[Caution]:
    source = {"prior_source": "comparable engines"} if over else {}
    return assertions.caution_assumed_shape(made_settings(evidence=source), NS(verdict=None))  # type: ignore[arg-type]


def _settings(claim: float | None = 1200.0, built: Any = None, **tables: Any) -> Iterable[Caution]:
    meters = ("tach",) if built is not None else ()
    return assertions.caution_settings(
        fleet(10), made_settings(claim=claim, **tables), built, meters
    )


@maker("odd-setting/confidence")
def _(over: bool) -> Iterable[Caution]:
    return _settings(study={"confidence": 0.799 if over else 0.8})


@maker("odd-setting/factors")
def _(over: bool) -> Iterable[Caution]:
    factor = 1.05 if over else [1.05, 1.0, 1.1]
    built = NS(rows=made_rows(fleet(0), meter="tach"), told=None, endings=())
    return _settings(built=built, hours={"factors": {"tach": factor}})


@maker("odd-setting/claim")
def _(over: bool) -> Iterable[Caution]:
    """Half of these lives reached 538 h."""
    ages = fleet(10).exit_upper
    assert float(ages[19]) == np.sort(ages)[19]
    return _settings(claim=0.0999 * ages[19] if over else 0.1001 * ages[19])


@maker("odd-setting/accepted")
def _(over: bool) -> Iterable[Caution]:
    return _settings(targets={"accepted_failure_at_claim": 0.501 if over else 0.5})


@maker("odd-setting/at-risk")
def _(over: bool) -> Iterable[Caution]:
    return _settings(evidence={"min_at_risk": 4 if over else 5})


@maker("odd-setting/unknown-cause")
def _(over: bool) -> Iterable[Caution]:
    endings = (NS(reason=CAUSE_UNKNOWN if over else "failed, cause unknown", n=3),)
    return _settings(built=NS(rows=(), told=None, endings=endings))


@maker("stale-hours/carried")
def _(over: bool) -> Iterable[Caution]:
    spells = Spells.of(0.0, [800.0, 700.0], [0, 0])
    spells = spells.replace(assumed_h=[50.0 if over else 0.0, 0.0])
    return assertions.caution_carried(spells, NS(verdict=None))  # type: ignore[arg-type]


def _built(
    *,
    listed: int = 40,
    unsaid: int = 0,
    checks: bool = True,
    built: int | None = 40,
    each: int = 1,
) -> Iterable[Caution]:
    told = Asserted(
        n_from_start=40, n_from_start_unsaid=unsaid, checks_seen=checks, level="beyond-limits"
    )
    funnel = NS(n_built=built, n_listed=listed, n_fate_unknown=0)
    rows = made_rows(fleet(0, 1), count=each)
    of_lives = LivesTold.of_rows(rows, made_settings())
    return assertions.caution_as_stated(NS(funnel=funnel, asserted=told), of_lives)  # type: ignore[arg-type]


@maker("as-stated/built")
def _(over: bool) -> Iterable[Caution]:
    return _built(listed=0 if over else 40)


@maker("as-stated/from-start")
def _(over: bool) -> Iterable[Caution]:
    return _built(unsaid=int(over))


@maker("as-stated/checks")
def _(over: bool) -> Iterable[Caution]:
    return _built(checks=not over)


@maker("as-stated/counts")
def _(over: bool) -> Iterable[Caution]:
    return _built(each=5 if over else 1)
