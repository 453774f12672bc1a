"""For every case of the catalogue of cautions: what just calls for it, and what just does not.

Each maker runs the rule itself on a few made figures, on either side of its limit; `over` says
which. Figures are chosen so that the limit falls between the two; none is from a real fleet.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from types import SimpleNamespace
from typing import Any
from unittest import mock

import numpy as np
from advice_fleets import made_rows, made_settings

from fleetstats.advice.results import HowRead
from fleetstats.bands.draws import draw_lives
from fleetstats.chapters.ahead import forecast, outlook
from fleetstats.chapters.bench import compute as bench
from fleetstats.chapters.causes import compute as causes
from fleetstats.chapters.cautions import compute as cautions
from fleetstats.chapters.cautions import rules as caution_rules
from fleetstats.chapters.cautions.quick import caution_quick
from fleetstats.chapters.checks import compliance, laws
from fleetstats.chapters.checks import compute as check_interval
from fleetstats.chapters.checks.values import CheckInterval
from fleetstats.chapters.covariates import compute as effects
from fleetstats.chapters.groups import compute as pooled
from fleetstats.chapters.trends import compute as trends
from fleetstats.core.errors import FitError
from fleetstats.spells import Event, Spells
from fleetstats.spells.asserted import LivesTold
from fleetstats.spells.left_out import LeftOut
from fleetstats.studies import analyse, kept_chapters
from fleetstats.studies.compare import engines as walk_engines
from fleetstats.study.condition_settings import LeakdownKeys
from fleetstats.study.settings import EvidenceKeys
from fleetstats.vocabulary.caution import Caution

NS = SimpleNamespace
Maker = Callable[[bool], Iterable[Caution]]
MAKERS: dict[str, Maker] = {}
SAME_CODE_BELOW = {
    "few-failures/shape": "few-failures/two",
    "zero-failures/left-out": "zero-failures",
}
"""Where the side that does not call for a case calls for another case of the same code."""


def maker(key: str) -> Callable[[Maker], Maker]:
    """Enter a maker under the key of its case."""

    def enter(f: Maker) -> Maker:
        MAKERS[key] = f
        return f

    return enter


def fleet(failed: int = 0, n: int = 40, **columns: Any) -> Spells:
    """Return `n` engines from new, the first `failed` of them failed."""
    event = np.where(np.arange(n) < failed, int(Event.FAILED), int(Event.CENSORED))
    return Spells.of(0.0, np.linspace(100.0, 1000.0, n), event, **columns)


# -- advice ----------------------------------------------------------------------------------------


@maker("zero-failures")
def _(over: bool) -> Iterable[Caution]:
    return cautions._failures(fleet(0 if over else 10))


@maker("zero-failures/left-out")
def _(over: bool) -> Iterable[Caution]:
    told = LeftOut(file="a.csv", row=2, low_h=0.0, high_h=900.0, reason="has no hours")
    return cautions._failures(fleet(0).with_left_out([told] if over else []))


@maker("few-failures/shape")
def _(over: bool) -> Iterable[Caution]:
    return cautions._failures(fleet(4 if over else 5))


@maker("few-failures/two")
def _(over: bool) -> Iterable[Caution]:
    return cautions._failures(fleet(9 if over else 10))


@maker("past-support")
def _(over: bool) -> Iterable[Caution]:
    return cautions._past_support(
        NS(  # type: ignore[arg-type]
            horizon=NS(supported_h=1000.0, enough="10 engines"),
            verdict=NS(claimed_h=1000.1 if over else 1000.0),
            reliability=NS(life=None),
            risk=NS(chosen=None),
            cost=NS(extrapolated=False),
        )
    )


@maker("late-entry")
def _(over: bool) -> Iterable[Caution]:
    """800 h from new, and 200 h of one that joined at 100 h: 20 %."""
    end = 301.0 if over else 300.0
    return cautions._late_entry(Spells.of([0.0, 100.0], [800.0, end], [0, 0]))


@maker("informative-removal")
def _(over: bool) -> Iterable[Caution]:
    """5 or 6 findings among 100 exits, with more failures than findings."""
    n = 6 if over else 5
    event = [Event.FINDING] * n + [Event.FAILED] * 20 + [Event.COMPETING] * (80 - n)
    return cautions._informative(Spells.of(0.0, np.linspace(1, 900, 100), event), ())


@maker("mixed-builds")
def _(over: bool) -> Iterable[Caution]:
    """800 h and 200 h: a second build with 20 % of the hours, or just less."""
    end = 800.0 if over else 801.0
    return cautions._builds(Spells.of(0.0, [end, 200.0], [0, 0], build=["A", "B"]))


@maker("plan-risk")
def _(over: bool) -> Iterable[Caution]:
    option = NS(shape=2.0, n_engines=4, chance_worse=0.1001 if over else 0.1, option="new")
    return cautions._plan_risk(NS(worst=NS(shape=2.0), options=(option,)))  # type: ignore[arg-type]


@maker("fate-unknown")
def _(over: bool) -> Iterable[Caution]:
    return cautions._fate(int(over))


@maker("base-rate-gap")
def _(over: bool) -> Iterable[Caution]:
    state = "far-fewer" if over else "in-keeping"
    return cautions._base_rate(NS(state=state, seen=1, expected=9.0))  # type: ignore[arg-type]


@maker("no-warning-mode/declared")
def _(over: bool) -> Iterable[Caution]:
    check = {"undetectable_causes": ("crank",)} if over else {}
    return cautions._declared(made_settings(check=check))


@maker("commercial")
def _(over: bool) -> Iterable[Caution]:
    return cautions._declared(made_settings(study={"commercial": over}))


def _running(n: int = 10, **columns: Any) -> Any:
    return made_rows(fleet(0, n), **columns)


@maker("stale-hours")
def _(over: bool) -> Iterable[Caution]:
    """2 or 3 of 10 running engines unread for longer than the study allows; then a day less."""
    settings = made_settings()
    days = settings.hours.stale_days + 1
    day = dt.date(2026, 1, 1)
    old = [day - dt.timedelta(days=days if i < 2 + over else days - 1) for i in range(10)]
    return caution_rules.caution_stale(
        LivesTold.of_rows(_running(last_reading=old), settings), settings
    )


@maker("clock-mixed")
def _(over: bool) -> Iterable[Caution]:
    meters = ["tach" if over and i else "flight" for i in range(10)]
    return caution_rules.caution_clocks(
        LivesTold.of_rows(_running(meter=meters), made_settings()), made_settings()
    )


@maker("calendar")
def _(over: bool) -> Iterable[Caution]:
    """Twelve years by a day; used enough either way."""
    new = dt.date(2026, 1, 1) - dt.timedelta(days=4384 if over else 4383)
    return caution_rules.caution_calendar(_running(in_service=new), made_settings())


@maker("prior-driven")
def _(over: bool) -> Iterable[Caution]:
    left = NS(mixture=NS(prior_driven=[0.801 if over else 0.8]))
    with mock.patch.object(caution_rules, "prepare", return_value=left):
        return caution_rules.caution_prior(fleet(2), None, made_settings())


@maker("one-unit/verdict")
def _(over: bool) -> Iterable[Caution]:
    return caution_rules._turning(["source A"] if over else [])


# -- chapters --------------------------------------------------------------------------------------


def _lines(n: int) -> Any:
    return (NS(cause="valve", n_failed=n),)


@maker("few-failures/causes")
def _(over: bool) -> Iterable[Caution]:
    return causes._cautions(_lines(4 if over else 5), (), 0, 50)


@maker("cause-unknown")
def _(over: bool) -> Iterable[Caution]:
    return causes._cautions(_lines(9), (), 6 if over else 5, 50)


@maker("independent-causes")
def _(over: bool) -> Iterable[Caution]:
    return causes._cautions(_lines(9), (NS(),) if over else (), 0, 50)  # type: ignore[arg-type]


def _renewed(over: bool, first: float | None) -> Iterable[Caution]:
    line = NS(in_question=True, renewed=not over, cause="crank", n_failed=2)
    figure = NS(plan_from_h=first, not_beyond_h=None)
    return causes._not_renewed((line,), figure, 9)  # type: ignore[arg-type]


MAKERS["not-renewed"] = lambda over: _renewed(over, 900.0)
MAKERS["not-renewed/no-band"] = lambda over: _renewed(over, None)


def _seen(*, failed: int = 9, assumed: bool = False) -> Any:
    return mock.MagicMock(n_failed=failed, assumed=np.array([assumed]), __len__=lambda _: 1)


def _checks(seeing: Any, modes: Any = (), prior: Any = None) -> Iterable[Caution]:
    return check_interval._cautions(seeing, modes, prior, made_settings())


@maker("few-failures/faults")
def _(over: bool) -> Iterable[Caution]:
    return _checks(_seen(failed=2 if over else 3))


@maker("no-warning-mode/seen")
def _(over: bool) -> Iterable[Caution]:
    mode = NS(mode="crank", detectable="never found", n_failed=int(over))
    return _checks(_seen(), (mode,))


@maker("prior-driven/warning-time")
def _(over: bool) -> Iterable[Caution]:
    return _checks(_seen(), prior=NS(median_h=90.0, log_sd=0.5, source="") if over else None)


@maker("checks-assumed")
def _(over: bool) -> Iterable[Caution]:
    return _checks(_seen(assumed=over))


@maker("steady-faults")
def _(over: bool) -> Iterable[Caution]:
    """The rule itself asks a chance below 5 % and faults that come faster."""
    told = CheckInterval.flatters_old.fget
    answer = NS(arrival="steady", steady_p=0.0499 if over else 0.05, faults_shape=2.0)
    answer.flatters_old = told(answer)  # type: ignore[misc]
    return check_interval._unsteady(answer)  # type: ignore[arg-type]


@maker("warning-law")
def _(over: bool) -> Iterable[Caution]:
    """Upper limits of 20 % and a quarter above it, at the second interval."""
    most = np.array([0.1, 0.2501 if over else 0.25])
    return laws.law_caution(np.array([50.0, 100.0]), np.array([0.1, 0.2]), most)


@maker("checks-missing")
def _(over: bool) -> Iterable[Caution]:
    return compliance._cautions([], 9, int(over), 0)


def _factors(name: str, p: float) -> Iterable[Caution]:
    r = NS(factors=[NS(name="bore", shape_p_value=p if name == "shape" else None)])
    h = NS(ratios=[NS(name="bore", proportional_p=p if name == "hazard" else None)])
    return effects._check_cautions(r, h)  # type: ignore[arg-type]


MAKERS["mixed-builds/shape"] = lambda over: _factors("shape", 0.0499 if over else 0.05)
MAKERS["hazards-not-proportional"] = lambda over: _factors("hazard", 0.0499 if over else 0.05)


def _ahead(*, beyond: float = 0.0, method: str = "weights", stale: int = 0) -> Iterable[Caution]:
    expected = np.array([beyond, 100.0 - beyond])
    engines = (NS(count=stale, stale=True), NS(count=100 - stale, stale=False))
    past = np.array([True, False])
    return forecast._cautions(
        fleet(9), None, made_settings(), expected, past, 900.0, engines, NS(method=method)
    )  # type: ignore[arg-type]


MAKERS["past-support/forecast"] = lambda over: _ahead(beyond=20.1 if over else 20.0)
MAKERS["prior-driven/forecast"] = lambda over: _ahead(
    method=draw_lives(fleet(9 if over else 10), EvidenceKeys(), 20, seed=1).method
)
MAKERS["stale-hours/forecast"] = lambda over: _ahead(stale=21 if over else 20)


@maker("past-support/outlook")
def _(over: bool) -> Iterable[Caution]:
    return outlook._cautions((NS(beyond=over, count=1),), 900.0)  # type: ignore[arg-type]


@maker("mixed-builds/pooling")
def _(over: bool) -> Iterable[Caution]:
    group = NS(by="build", verdict="not-shown" if over else "inside", between=None)
    return pooled._cautions((group,), (), NS(cautions=()))  # type: ignore[arg-type]


@maker("one-unit/influence")
def _(over: bool) -> Iterable[Caution]:
    line = NS(carries=over, kind="source", name="A")
    return pooled._cautions((), (line,), NS(cautions=()))  # type: ignore[arg-type]


@maker("limit-source")
def _(over: bool) -> Iterable[Caution]:
    line = NS(limit_from="default" if over else "maker")
    return trends._cautions([line], NS(leakdown=LeakdownKeys()))  # type: ignore[arg-type,list-item]


@maker("records-rewritten")
def _(over: bool) -> Iterable[Caution]:
    change = NS(kind="hours-back" if over else "on", unit="A", ended_before="")
    return walk_engines.caution_rewritten([change])  # type: ignore[list-item]


def _bench(*, far: float = 0.0, broken: int = 3, joined: bool = True) -> Iterable[Caution]:
    levels = [NS(n_failed=2, stress=1.0 + k) for k in range(broken)]
    b = NS(distance=far, service_stress=9.0, levels=levels, joined=joined, not_joined="no mode")
    return bench._cautions(b)  # type: ignore[arg-type]


MAKERS["bench-stress"] = lambda over: _bench(far=0.51 if over else 0.5)
MAKERS["bench-levels"] = lambda over: _bench(broken=2 if over else 3)
MAKERS["bench-mode"] = lambda over: _bench(joined=not over)


@maker("chapter-failed")
def _(over: bool) -> Iterable[Caution]:
    """A study in which one chapter fails, or none does."""
    from fleetstats.chapters.registry import Chapter
    from fleetstats.core.provenance import Provenance

    def run(base: Any, done: Any) -> None:
        if over:
            raise FitError("No maximum.", "")

    chapter = Chapter(key="claim", stage="the claim", compute=run)
    provenance = mock.Mock(spec=Provenance, files=())
    with (
        mock.patch.object(analyse, "CHAPTERS", {"claim": chapter}),
        mock.patch.object(kept_chapters, "CHAPTERS", {"claim": chapter}),
        mock.patch.object(analyse, "replace", lambda x, **k: NS(**{"files": (), **k})),
        mock.patch.object(analyse, "qualify", lambda base, _: base),
    ):
        base = NS(advice=None, provenance=provenance, spells=())
        return analyse.add_chapters(base).troubles  # type: ignore[arg-type]


@maker("quick-study")
def _(over: bool) -> Iterable[Caution]:
    """A study that leaves two chapters out, or none."""
    left = ("causes", "whom to ask") if over else ()
    how = HowRead(by_chunks=False, reason="size", sentence="Read whole.", left_out=left, quick=over)
    return caution_quick(how)


@maker("figures-disagree")
def _(over: bool) -> Iterable[Caution]:
    """One figure seen in two places, as two numbers or as one."""
    from fleetstats.chapters.consistency import compare

    sights = [
        compare.Sight(key="claim", where=where, shown=text)
        for where, text in (("the answer", "900 h"), ("the claim", "950 h" if over else "900 h"))
    ]
    with mock.patch.object(compare, "find_sights", return_value=sights):
        return compare.check_figures(NS(), NS())  # type: ignore[arg-type]
