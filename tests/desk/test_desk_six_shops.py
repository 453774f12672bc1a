"""Six shops and a rough register from drop to answer by hand, in a browser: the prompt's answer.

The shops are invented, and their truth is what they were drawn with (`shop_makers.py`). The limit
of 40 acts is the one set for the page; no outside source.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from desk_hand import BROWSER, chromium
from desk_pages import (
    CLAIMED_H,
    DESK,
    GUIDE,
    ROUGH_SETTLED,
    Went,
    between,
    go_through,
    rough_way,
    section,
    summary,
)
from shop_makers import SHOPS
from shop_rough import rough
from test_shops import fill_in

from fleetstats.advice.advice import say_word
from fleetstats.advice.advise import advise_hours
from fleetstats.cli import main
from fleetstats.records.guess.write import begin_from_files
from fleetstats.studies.analyse import analyse
from fleetstats.studies.single import read_base
from fleetstats.study.edit import set_key
from fleetstats.study.study import read_study
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.wording import at_most

pytest.importorskip("playwright.sync_api", reason="no Playwright here (extra 'dev')")
pytestmark = pytest.mark.skipif(BROWSER is None, reason="no Chromium on this machine")

MOST_ACTS = 40
WITH_HOURS = "three builds"
"""The one shop whose band has hours; its study is run whole."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as one:
        yield one


@pytest.fixture(scope="module")
def ways(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Went]:
    """Every shop gone through once."""
    gone = {}
    for name, make in SHOPS.items():
        place = tmp_path_factory.mktemp("shop")
        gone[name] = go_through(browser, make(place), place / "desk")
    return gone


@pytest.fixture(scope="module")
def by_hand(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> tuple[Went, Path]:
    """The rough register gone through, and its folder."""
    place = tmp_path_factory.mktemp("rough")
    return go_through(browser, rough(place), place / "desk", ROUGH_SETTLED), place / "desk"


def claimed(folder: Path) -> dict[str, Any]:
    """Return what the verb `claim` says of a folder."""
    run = CliRunner().invoke(main, ["claim", str(folder), "--json", "--no-history"])
    return dict(json.loads(run.stdout))


def told(said: dict[str, Any]) -> tuple[str, str, str]:
    """Return word, sentence that may be quoted, and the one that may not, of a claim as JSON."""
    word = say_word(said["state"], extrapolated=said["extrapolated"],
                    provisos=tuple(said["provisos"]))  # fmt: skip
    return capital(word), plain(said["may_quote"]), plain(said["may_not_quote"])


def plain(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("name", SHOPS)
def test_a_hand_at_the_page_gets_the_prompts_answer_to_the_digit(
    name: str, ways: dict[str, Went], tmp_path: Path
) -> None:
    went = ways[name]
    folder = tmp_path / "prompt"
    begin_from_files(folder, went.shop.files)
    file = folder / "study.toml"
    assert fill_in(file, dict(went.shop.answers)) == len(went.hand.asked)
    text = set_key(file.read_text("utf-8"), ("study", "claimed_interval_h"), int(CLAIMED_H))
    file.write_text(text, encoding="utf-8")
    said = claimed(folder)
    assert (went.word, went.may, went.may_not) == told(said)
    assert went.bound.startswith(at_most(said["failure_high"], 1 - said["target"]))
    study = read_study(folder)
    if name == WITH_HOURS:
        advice = analyse(study).advice
        assert advice.overhaul_band.plan_from is not None
    else:
        base = read_base(study)
        advice = advise_hours(base.spells, base.fit, base.settings)
    assert went.band == plain(advice.overhaul_band.sentence)


@pytest.mark.parametrize("name", SHOPS)
def test_the_page_counts_what_the_shop_was_drawn_with_in_few_acts(
    name: str, ways: dict[str, Went]
) -> None:
    went, truth = ways[name], ways[name].shop.truth
    assert (went.engines, went.failures) == (truth.engines, truth.failures)
    # hours are written with one digit after the point, some sums in another order
    assert went.hours_h == pytest.approx(truth.hours_h, abs=0.01)
    assert len(went.hand.acts) <= MOST_ACTS
    # two for the files, one each for what is open, two for the claimed hours, three between rooms
    further = went.hand.counted["records", "see other answers"]
    assert len(went.hand.acts) == 7 + len(went.hand.asked) + further
    counted = f"{truth.failures} counted as failures in question"
    assert (counted if truth.failures else "No row of the records hints") in went.ledger
    assert went.hand.wrong == []


def test_the_rough_register_is_settled_by_hand_in_few_acts(by_hand: tuple[Went, Path]) -> None:
    went, folder = by_hand
    truth = went.shop.truth
    assert (went.engines, went.failures) == (truth.engines, truth.failures)
    # "about" and "over" count a running engine at the lower end, so never more than was flown
    # but for hours rounded to whole ones ("771hrs"): half an hour each
    assert 0.98 * truth.hours_h < went.hours_h < truth.hours_h + 0.5 * 10
    assert len(went.hand.acts) <= MOST_ACTS
    assert went.hand.wrong == []
    assert (went.word, went.may, went.may_not) == told(claimed(folder))


def test_the_guides_show_what_the_hand_did_and_the_page_said(
    ways: dict[str, Went], by_hand: tuple[Went, Path]
) -> None:
    """`desk_pages.py` writes them anew."""
    guide = GUIDE.read_text(encoding="utf-8")
    assert between("shops", guide) == summary(list(ways.values()))
    assert between("each", guide) == "\n\n".join(section(w) for w in ways.values())
    assert between("acts", DESK.read_text(encoding="utf-8")) == rough_way(by_hand[0])
