"""Every gated function refuses every wrong value of each argument, by the argument's name.

What is right is our own rule; no outside source. A function is found by its `@gate` line, so that
a new one is asked without an entry here; a public name without a gate fails.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from wrong_arguments import WRONG

import fleetstats
from fleetstats.core.errors import ArgumentError, FleetstatsError
from fleetstats.core.gate import ArgumentKind

PACKAGE = Path(fleetstats.__file__).parent
LONGEST_S = 0.5
"""Processor time in which a wrong argument is refused; none works first."""

NOT_LOOKED_AT = {
    "analyse": {"stage", "opened", "beside", "tell", "memory", "shelf", "crew"},
    "read_records": {"opened"},
    "take_mends": {"decisions", "today"},
    "write_report": {"results", "beside"},
    "advise_claim": {"asserted"},
    "make_settings": {"tables"},
    "merge_returns": {"rows"},
    "find_running": {"rows"},
    "watch_fleet": {"since", "on", "today"},
    "forecast_fleet": {"engines", "now"},
    "look_ahead": {"engines", "signs", "everyone"},
}
"""Parameters of public functions without a kind: callbacks and values of the program's own."""

MACHINERY = (
    "survival.counting.turnbull:estimate_turnbull",
    "survival.counting.turnbull_limits:estimate_turnbull_limits",
    "survival.counting.simultaneous:estimate_simultaneous_band",
    "survival.counting.brownian_bounds:critical_bridge",
    "survival.counting.brownian_bounds:critical_scaled_bridge",
    "survival.counting.rank_limits:estimate_rank_limits",
    "survival.counting.count_law:CountLaw.quantile",
    "bands.whole_curve:band_whole_curve",
    "survival.change.scan:scan_change",
    "survival.delay.delay_fit:fit_delay",
    "survival.counting.incidence:estimate_incidence",
    "survival.counting.product_limit:estimate_cumulative_hazard",
    "survival.groups.causes:fit_causes",
    "survival.recurrent.recurrent:estimate_mean_cumulative",
    "survival.recurrent.power_law:fit_power_law",
    "survival.recurrent.trend:estimate_trend",
    "survival.regression.regression:fit_accelerated",
    "survival.regression.proportional:fit_proportional",
    "survival.regression.stratified:fit_stratified",
    "survival.stress.stress_life:fit_stress_life",
    "survival.stress.stress_bands:limits_life",
    "survival.stress.stress_bands:limits_margin",
    "survival.stress.stress_parameters:limits_parameters",
    "survival.stress.two_stress:fit_two_stress",
    "survival.stress.two_stress_at:quote_two_stress",
    "advice.quotes.quote:quote",
    "advice.success_run:success_run",
    "survival.counting.exposure:poisson_limits",
    "advice.cost.rates:optimum_age",
    "survival.counting.count_law:CountLaw.interval",
    "survival.counting.count_law:poisson_law",
    "survival.groups.growth:estimate_growth",
    "survival.groups.pooling:compare_scales",
    "survival.groups.between:fit_between",
    "survival.counting.capture:estimate_unseen",
    "survival.groups.rate_ratio:false_discovery",
    "survival.groups.rate_ratio:hold_over",
    "chapters.calls.compute:list_calls",
    "report.write:trace_files",
    "report.figures.draw:draw_figure",
    "studies.main_results:describe",
    "survival.second_opinion:second_opinions",
)
"""Doors behind the public names that a user of the library calls."""


def _gated(body: list[ast.stmt], inside: str = "") -> Iterator[str]:
    for node in body:
        if isinstance(node, ast.ClassDef):
            yield from _gated(node.body, f"{node.name}.")
        elif isinstance(node, ast.FunctionDef) and any(
            isinstance(d, ast.Call) and isinstance(d.func, ast.Name) and d.func.id == "gate"
            for d in node.decorator_list
        ):
            yield inside + node.name


OTHER_UNITS = {"public_rate_per_h", "scale_h"}
"""Names that end as hours do: a rate, and scales above 0 in columns."""

DOORS = {
    f"{'.'.join(path.relative_to(PACKAGE).with_suffix('').parts)}:{name}"
    for path in sorted(PACKAGE.rglob("*.py"))
    if "gate(" in (text := path.read_text(encoding="utf-8"))
    for name in _gated(ast.parse(text).body)
}


def door(name: str) -> tuple[Any, Any]:
    """Return a gated function and the same without its object."""
    module, _, inner = name.partition(":")
    held: Any = importlib.import_module(f"fleetstats.{module}")
    for part in inner.split("."):
        held = getattr(held, part)
    return held, getattr(held, "__func__", held)


def gates(name: str) -> dict[str, ArgumentKind]:
    found: dict[str, ArgumentKind] = door(name)[1].__gate__
    return found


@pytest.mark.parametrize("name", sorted(DOORS))
def test_every_wrong_argument_is_refused_by_its_name(name: str) -> None:
    call, plain = door(name)
    first = next(iter(inspect.signature(plain).parameters))
    bare = (None,) if first == "self" else ()
    for argument, kind in plain.__gate__.items():
        wrong = [v for v in WRONG[kind.word] if not (v is None and kind.none)]
        assert len(wrong) >= 4
        for value in wrong:
            began = time.process_time()
            with pytest.raises(ArgumentError) as told:
                call(*bare, **{argument: value})
            assert time.process_time() - began < LONGEST_S
            assert str(told.value).startswith(argument), (argument, value, str(told.value))
            assert told.value.hint
            assert isinstance(told.value, FleetstatsError)


VALUES = {n for n in fleetstats.__all__ if inspect.isclass(getattr(fleetstats, n))}
"""Public classes; the ways in which they are made are asked in `test_given` and as doors."""


@pytest.mark.parametrize("name", sorted(set(fleetstats.__all__) - VALUES))
def test_a_public_function_looks_at_every_argument(name: str) -> None:
    held = getattr(fleetstats, name)
    kinds = getattr(held, "__gate__", None)
    assert kinds is not None, f"{name} has no @gate; see core/gate.py"
    missing = set(inspect.signature(held).parameters) - set(kinds)
    assert missing == NOT_LOOKED_AT.get(name, set()), f"{name}: give a kind to {missing}"


@pytest.mark.parametrize("name", MACHINERY)
def test_what_lies_behind_the_public_names_is_gated_too(name: str) -> None:
    assert name in DOORS
    parameters = set(inspect.signature(door(name)[1]).parameters) - {"self"}
    assert parameters == set(gates(name))


@pytest.mark.parametrize("name", sorted(DOORS))
def test_a_door_that_takes_a_level_checks_it_as_one(name: str) -> None:
    """An argument is not gated as something laxer than its name says."""
    words = {"level": "level", "seed": "seed", "confidence": "probability", "p": "probab"}
    for argument, kind in gates(name).items():
        if argument in words:
            assert kind.word.startswith(words[argument]), (argument, kind.word)
        if argument == "hours" or argument.endswith("_h"):
            assert kind.word.startswith("hours") or argument in OTHER_UNITS, (argument, kind.word)
        if kind.word == "hours-signed":
            assert name.startswith("survival.fit:Fit."), "only a law may have lives below 0 h"
