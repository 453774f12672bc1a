"""A whole study of clubs that write as they please, its truth in `messy_uses`; and odd askings."""

import dataclasses
import json
import math

import numpy as np
import pytest
from click.testing import CliRunner
from messy_uses import NEWER, SCALE_H, SHAPE, TOWING, write_messy

from fleetstats.chapters.covariates import with_asked
from fleetstats.chapters.covariates.section import compose_regression
from fleetstats.cli import main
from fleetstats.core.errors import SettingError
from fleetstats.studies.single import run_single
from fleetstats.study.study import read_study


def effects_of(folder, *at):
    study = read_study(folder)
    study = with_asked(study, at) if at else study
    return run_single(study, ("effects",), lambda _stage: None)["effects"]


def run(*args):
    return CliRunner().invoke(main, [str(a) for a in args])


@pytest.fixture(scope="module")
def messy(tmp_path_factory):
    return write_messy(tmp_path_factory.mktemp("clubs"), seed=1)


@pytest.fixture(scope="module")
def told(messy):
    return effects_of(messy, "use=towing", "build=B")


def every_number(x):
    if isinstance(x, dict):
        return [n for v in x.values() for n in every_number(v)]
    if isinstance(x, list | tuple):
        return [n for v in x for n in every_number(v)]
    return [x] if isinstance(x, float) else []


def test_the_truth_lies_in_the_bands(messy):
    """At 99 %, since this is one fleet; `tests/coverage/test_values_coverage.py` counts many."""
    study = with_asked(read_study(messy), ("use=towing", "build=B"))
    keys = dataclasses.replace(study.settings.study, confidence=0.99)
    study = dataclasses.replace(study, settings=dataclasses.replace(study.settings, study=keys))
    told = run_single(study, ("effects",), lambda _stage: None)["effects"]
    factor = {f.name: f for f in told.regression.factors}
    towing, build = factor["use: towing v school"], factor["build: B v A"]
    assert towing.low < TOWING < towing.high
    assert towing.reading == "shorter"
    assert build.low < NEWER < build.high
    fuel = next(f for n, f in factor.items() if n.startswith("fuel"))
    assert fuel.reading == "not shown"
    ratio = next(r for r in told.within.ratios if r.name == "use: towing v school")
    assert ratio.low < TOWING**-SHAPE < ratio.high
    life = told.at.law.lives[0].life_h
    true = SCALE_H * TOWING * NEWER * (-math.log(0.9)) ** (1 / SHAPE)
    assert life.low < true < life.high
    assert told.adjusted == ("build", "calendar")
    assert "Adjusted for build and time of entry." in told.sentence


def test_every_life_is_somewhere(messy, told):
    use = [x for x in told.levels if x.column == "use"]
    fuel = [x for x in told.levels if x.column == "fuel"]
    assert sum(x.hours for x in use) == pytest.approx(sum(x.hours for x in fuel))
    assert sum(x.failures for x in use) == told.regression.n_failed
    assert {x.level for x in use} == {"school", "towing", "touring", "not given"}
    assert told.n_changed > 0
    text = (messy / "study.toml").read_text().replace('"fuel"]', '"fuel"]\nmissing = "set-aside"')
    other = messy.parent / "aside"
    other.mkdir(exist_ok=True)
    for name in ("lives.csv", "log.csv"):
        (other / name).write_text((messy / name).read_text())
    (other / "study.toml").write_text(text)
    aside = effects_of(other)
    kept = sum(x.failures for x in use if x.level != "not given")
    assert aside.regression.n_failed == kept
    (why,) = [w for w in aside.regression.set_aside if w[0] == "use not given"]
    assert why[1] == next(x.lives for x in use if x.level == "not given")


def test_the_section_and_the_json_hold_no_infinite_and_no_nan(told):
    numbers = every_number(told.to_dict())
    assert numbers
    assert all(math.isfinite(x) for x in numbers)
    section = compose_regression(told)
    keys = [b.key for b in section.blocks if hasattr(b, "key")]
    assert {"levels-held", "at-values", "life-factors", "hazard-ratios"} <= set(keys)
    cells = [c for b in section.blocks if hasattr(b, "rows") for r in b.rows for c in r]
    assert not [c for c in cells if isinstance(c, float) and not math.isfinite(c)]


def test_few_failures_are_shown_over_shapes_with_exact_limits(tmp_path):
    rows = ["engine,build,exit_hours,ending,use"]
    rng = np.random.default_rng(2)
    for i in range(60):
        use = ("tow", "training", "private")[i % 3]
        ending = "failed" if i in (0, 3, 6, 4) else "running"
        rows.append(f"E-{i},{'AB'[i % 2]},{rng.uniform(300, 1500):.0f},{ending},{use}")
    (tmp_path / "lives.csv").write_text("\n".join(rows) + "\n")
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "t"\nanalysis_date = 2025-12-31\n[categories]\ncolumns = ["use"]\n'
        '[[records]]\nfile = "lives.csv"\n'
    )
    told = effects_of(tmp_path, "use=touring")
    assert told.regression is None
    assert told.sentence.startswith("4 failures: too few to tell a shape")
    assert [x.shape for x in told.over_shapes] == [1.0, 2.0, 3.0, 4.0] * 2
    touring = [x for x in told.over_shapes if x.name.startswith("use: touring")]
    for x in touring:  # no failure there: one limit, at every shape
        assert (x.failures, x.factor, x.high) == (0.0, None, None)
        assert x.low > 0
        assert x.strata == 2
    towing = [x for x in told.over_shapes if x.name.startswith("use: to") and x not in touring]
    assert not towing or all(x.low is not None for x in towing)
    assert told.at.law is None
    assert [s.shape for s in told.at.shapes] == [1.0, 2.0, 3.0, 4.0]
    assert all((s.life_h, s.high_h) == (None, None) and s.low_h > 0 for s in told.at.shapes)
    assert "one-sided 95 %" in told.at_sentence
    assert all(math.isfinite(x) for x in every_number(told.to_dict()))
    compose_regression(told)


def test_no_failure_at_all_gives_hours_and_no_effect(tmp_path):
    rows = "engine,exit_hours,ending,use\nA,500,running,tow\nB,700,running,school\n"
    (tmp_path / "lives.csv").write_text(rows)
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "t"\nanalysis_date = 2025-12-31\n[categories]\ncolumns = ["use"]\n'
        '[[records]]\nfile = "lives.csv"\n'
    )
    told = effects_of(tmp_path, "use=tow")
    assert told.sentence.startswith("No effects can be given: no failure among these lives")
    assert [x.hours for x in told.levels] == [700.0, 500.0]
    assert all(x.ratio_high is None and x.low is None for x in told.over_shapes)
    assert told.at.shapes[0].low_h > 0
    compose_regression(told)


def test_a_use_that_is_a_build_cannot_be_told_from_it(tmp_path):
    rows = ["engine,build,exit_hours,ending,use"]
    rng = np.random.default_rng(3)
    for i in range(60):
        use, build = (("towing", "B"), ("school", "A"))[i % 2]
        ending = ("failed", "running")[i % 3 == 0]
        rows.append(f"E-{i},{build},{rng.uniform(300, 1500):.0f},{ending},{use}")
    (tmp_path / "lives.csv").write_text("\n".join(rows) + "\n")
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "t"\nanalysis_date = 2025-12-31\n[categories]\ncolumns = ["use"]\n'
        '[[records]]\nfile = "lives.csv"\n'
    )
    told = effects_of(tmp_path, "build=B")
    assert "levels-not-separable" in [c.code for c in told.cautions]
    # asked for what the fit cannot say: the lives themselves answer
    assert told.at.law is None
    assert told.at.shapes


@pytest.mark.parametrize(
    ("pair", "says"),
    [
        ("usage=towing", "there is no covariate 'usage'. Did you mean 'use'?"),
        ("colour=red", "Known are: use, fuel, build."),
        ("use=shcool", "no life has use 'shcool'. Did you mean 'school'? Lives have: not given"),
        ("use=aerobatics", "Known are: not given, school, touring, towing."),
        ("use", "write it as name=value"),
        ("use=", "write it as name=value"),
    ],
)
def test_a_bad_value_is_told_with_those_that_are_known(messy, pair, says):
    with pytest.raises(SettingError) as told:
        effects_of(messy, pair)
    assert says in str(told.value)
    got = run("effects", messy, "--at", pair)
    assert got.exit_code == 2
    assert "Traceback" not in got.output


def test_the_verb_prints_and_writes_what_the_study_holds(messy, tmp_path):
    got = run("effects", messy, "--at", "use=Glider Tow", "--at", "fuel=UL91", "--json", "--quiet")
    assert got.exit_code == 0, got.output
    told = json.loads(got.output)
    assert told["schema"] == "fleetstats/effects/1"
    asked = {v["name"]: v["value"] for v in told["at"]["values"] if v["how"] == "asked"}
    assert asked == {"use": "towing", "fuel": "unleaded"}
    got = run("effects", messy, "--at", "use=towing", "--csv", tmp_path / "t", "--quiet")
    assert "At use towing" in got.output
    assert (tmp_path / "t" / "at-values.csv").is_file()
