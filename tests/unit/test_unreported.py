"""How many failures nobody reported: who could have told what, and what the claim says of it.

All returns are invented, with no source: a shop and a club that list the same engines.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from fleetstats.chapters.compose import compose_report
from fleetstats.chapters.unreported import Unreported, beside_tipping, estimate_unreported
from fleetstats.cli import main
from fleetstats.core.errors import FleetstatsError, SettingError
from fleetstats.studies.analyse import analyse
from fleetstats.studies.single import cautions_at, read_base
from fleetstats.study.study import Study, read_study
from fleetstats.survival.counting.capture import estimate_unseen

COLUMNS = "engine,entry_hours,exit_hours,ending,cause,last_reading_date,ended_date"
STUDY = """\
[study]
title = "made"
analysis_date = 2026-01-31
claimed_interval_h = {claim}
[targets]
reliability = 0.9
{more}
[[records]]
file = "shop.csv"
source = "shop"
[[records]]
file = "club.csv"
source = "club"
"""


def ran(engine: str, h: float, day: str = "2026-01-20") -> str:
    return f"{engine},0,{h:g},running,,{day},"


def failed(engine: str, h: float, day: str = "2025-06-01") -> str:
    return f"{engine},0,{h:g},failed,piston,,{day}"


def returns(
    both: int, shop: int, club: int, *, day: str = "2025-06-01", running: int = 150
) -> dict[str, list[str]]:
    """Return two lists of the same engines; who does not tell a failure had read it before it."""
    out: dict[str, list[str]] = {"shop": [], "club": []}
    for i in range(running):
        for rows in out.values():
            rows.append(ran(f"R-{1000 + i}", 600.0 + 6.0 * i))
    tellers = [("shop", "club")] * both + [("shop",)] * shop + [("club",)] * club
    for i, who in enumerate(tellers):
        engine, h = f"F-{2000 + i}", 1200.0 + 13.0 * i
        for name, rows in out.items():
            rows.append(
                failed(engine, h, day) if name in who else ran(engine, h - 50.0, "2025-01-15")
            )
    return out


def study(
    folder: Path, lists: dict[str, list[str]], *, claim: float = 800.0, more: str = ""
) -> Study:
    for name, rows in lists.items():
        folder.joinpath(f"{name}.csv").write_text("\n".join([COLUMNS, *rows]) + "\n", "utf-8")
    folder.joinpath("study.toml").write_text(STUDY.format(claim=claim, more=more), "utf-8")
    return read_study(folder)


def pair(both: int, first: int, second: int) -> np.ndarray:
    return np.array([[0, second], [first, both]])


def untold(s: Study) -> Unreported | None:
    base = read_base(s)
    return estimate_unreported(base.records, base.built, base.fit, base.settings)


def answered(s: Study) -> Unreported:
    u = untold(s)
    assert u is not None
    assert u.state == "answered"
    return u


def test_the_overlap_of_two_lists(tmp_path: Path) -> None:
    """5 by both, 3 by the shop alone, 4 by the club alone: 3 × 4 / 6 = 2 by nobody (Chapman)."""
    u = answered(study(tmp_path, returns(5, 3, 4)))
    (o,) = u.overlaps
    assert o.sources == ("club", "shop")
    assert dict(o.patterns) == {(True, True): 5, (False, True): 3, (True, False): 4}
    assert (o.n_engines, u.n_failed, u.n_alone) == (162, 12, 0)
    assert u.estimate == 2.0
    assert [m.odds_ratio for m in o.dependent] == [0.5, 1.0, 2.0, 4.0, 8.0]
    assert o.dependent[1].high == u.high


def test_one_return_tells_of_no_overlap(tmp_path: Path) -> None:
    lists = returns(0, 3, 0)
    lists["club"] = [ran("X-1", 500.0)]
    assert untold(study(tmp_path, lists)) is None


def test_a_failure_after_the_last_day_of_a_list_is_none_that_it_could_have_told(
    tmp_path: Path,
) -> None:
    lists = returns(5, 3, 4)
    lists["club"] = [r.replace("2026-01-20", "2025-07-01") for r in lists["club"]]
    lists["shop"].append(failed("R-1000", 640.0, "2025-12-01"))
    lists["shop"].remove(ran("R-1000", 600.0))
    u = answered(study(tmp_path, lists))
    assert (u.n_failed, u.n_alone, u.estimate) == (13, 1, 2.0)


def test_a_failure_without_a_date_is_taken_as_within_the_time_of_both(tmp_path: Path) -> None:
    lists = returns(5, 3, 4, day="")
    u = answered(study(tmp_path, lists))
    assert u.estimate == 2.0
    assert u.overlaps[0].n_undated == 12


def test_a_list_of_failures_alone_covers_nothing_unless_the_study_says_so(tmp_path: Path) -> None:
    """Its engines stand there because they failed: taken as covered, nothing would be untold."""
    lists = returns(5, 3, 4)
    lists["shop"] = [r for r in lists["shop"] if ",failed," in r]
    assert untold(study(tmp_path, lists)) is None
    more = '[merge]\nsame_population = ["Shop", "club"]'
    u = answered(study(tmp_path, lists, more=more))
    assert u.estimate == 2.0
    assert u.overlaps[0].n_engines == 162


def test_sources_of_one_population_must_be_in_the_records(tmp_path: Path) -> None:
    more = '[merge]\nsame_population = ["shop", "clup"]'
    with pytest.raises(SettingError, match="clup"):
        untold(study(tmp_path, returns(5, 3, 4), more=more))


def test_one_source_alone_shares_its_engines_with_nobody(tmp_path: Path) -> None:
    with pytest.raises(FleetstatsError, match="same_population"):
        study(tmp_path, returns(1, 1, 1), more='[merge]\nsame_population = ["shop"]')


def test_a_source_that_told_nothing_says_nothing_of_the_other(tmp_path: Path) -> None:
    u = untold(study(tmp_path, returns(0, 4, 0)))
    assert u is not None
    assert u.state == "not-enough-evidence"
    assert u.cautions == ()


def test_three_sources_are_estimated_by_models_of_dependence(tmp_path: Path) -> None:
    lists = returns(5, 3, 4)
    lists["register"] = list(lists["club"])
    s = STUDY + '[[records]]\nfile = "register.csv"\nsource = "register"\n'
    for name, rows in lists.items():
        tmp_path.joinpath(f"{name}.csv").write_text("\n".join([COLUMNS, *rows]) + "\n", "utf-8")
    tmp_path.joinpath("study.toml").write_text(s.format(claim=800, more=""), "utf-8")
    u = answered(read_study(tmp_path))
    (o,) = u.overlaps
    assert o.sources == ("club", "register", "shop")
    assert o.models[0].blocks == ((0,), (1,), (2,))
    assert len(o.models) == 4
    # club and register tell the same: taken as independent they would make all look complete
    assert o.quoted is not None
    assert o.quoted.blocks == ((0, 1), (2,))
    assert o.quoted.estimate == 2.0
    assert (o.models[0].estimate or 0.0) < 1.0


def test_clubs_with_engines_of_their_own_are_estimated_apart_and_summed(tmp_path: Path) -> None:
    """A shop that both clubs use: 5/3/4 with one and 2/1/1 with the other, 2 + 1/3 by nobody."""
    lists = returns(5, 3, 4)
    more = returns(2, 1, 1, running=30)
    rows = [r.replace("F-2", "F-7").replace("R-1", "R-8") for r in more["club"]]
    lists["shop"] += [r.replace("F-2", "F-7").replace("R-1", "R-8") for r in more["shop"]]
    lists["other"] = rows
    s = STUDY + '[[records]]\nfile = "other.csv"\nsource = "other"\n'
    for name, told in lists.items():
        tmp_path.joinpath(f"{name}.csv").write_text("\n".join([COLUMNS, *told]) + "\n", "utf-8")
    tmp_path.joinpath("study.toml").write_text(s.format(claim=800, more=""), "utf-8")
    u = answered(read_study(tmp_path))
    assert [o.sources for o in u.overlaps] == [("club", "shop"), ("other", "shop")]
    assert u.estimate == pytest.approx(2.0 + 1.0 / 3.0)
    held = [estimate_unseen(pair(*n), ((0,), (1,)), level=0.95) for n in ((5, 4, 3), (2, 1, 1))]
    assert u.high == sum(x.high or 0 for x in held), "each at half the chance of 10 in 100"


# -- what the claim says of it ---------------------------------------------------------------------


def test_untold_failures_that_would_turn_the_claim_stand_in_its_sentence(tmp_path: Path) -> None:
    """1 by both, 6 and 7 by one alone: 21 by nobody, more than the claim can bear."""
    s = study(tmp_path, returns(1, 6, 7))
    results = analyse(s)
    assert results.advice.verdict is not None
    assert results.advice.verdict.word == "supported"
    u = results.chapters["unreported"]
    assert isinstance(u, Unreported)
    assert u.to_turn is not None
    assert u.estimate == 21.0 >= u.to_turn
    assert [c.code for c in u.cautions] == ["unreported-failures"]
    assert "about 21 failures may be told by nobody" in results.advice.verdict.sentence
    assert u.failure_high_with is not None
    assert u.failure_high_with > 0.1 > (u.failure_high or 1.0)
    document = compose_report(results)
    assert "told by nobody" in document.answer[0]
    keys = [x.key for x in document.sections]
    assert "unreported" in keys
    hidden = next(x for x in document.sections if x.key == "hidden")
    line = beside_tipping(u)
    assert line.startswith("By the overlap of what sources tell, about 21 more were probably")
    assert line.endswith(f"{u.to_turn} would turn the claim.")
    assert line in [getattr(b, "text", "") for b in hidden.blocks]
    told = CliRunner().invoke(main, ["hidden", str(tmp_path), "--quiet"])
    assert line in told.output
    # asked alone, the claim says it too
    told = cautions_at(read_base(s), 800.0)
    assert any(c.code == "unreported-failures" for c in told)


def test_the_upper_limit_is_enough_for_the_caution(tmp_path: Path) -> None:
    u = answered(study(tmp_path, returns(2, 4, 4)))
    assert u.to_turn is not None
    assert u.estimate < u.to_turn
    assert u.high is not None
    assert u.high >= u.to_turn
    (c,) = u.cautions
    assert f"up to {u.high} failures" in c.proviso


def test_a_good_overlap_gives_no_caution(tmp_path: Path) -> None:
    u = answered(study(tmp_path, returns(12, 0, 0)))
    assert u.to_turn is not None
    assert u.high is not None
    assert u.high < u.to_turn
    assert u.cautions == ()


def test_a_claim_that_is_not_supported_needs_no_caution(tmp_path: Path) -> None:
    u = answered(study(tmp_path, returns(1, 6, 7), claim=1400.0))
    assert u.to_turn is None
    assert u.cautions == ()


def test_more_dependence_is_said_to_mean_more(tmp_path: Path) -> None:
    u = answered(study(tmp_path, returns(5, 3, 4)))
    tried = u.overlaps[0].dependent
    assert [m.estimate for m in tried] == [1.0, 2.0, 4.0, 8.0, 16.0]
