"""A count names what it counts: an engine that was overhauled has more than one life.

The workshop demo: 99 lives of 72 engines; 33 lives of 30 engines reached 1,000 h (counted from its
log by hand). Invented records otherwise.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from made_studies import MADE, STUDIES, document_of, results_of, table_of, texts_of

from fleetstats.chapters.claim.values import Claim
from fleetstats.chapters.compose import compose_report
from fleetstats.spells import Spells
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study
from fleetstats.vocabulary.wording import heads, lives_of


def test_words_for_both() -> None:
    assert lives_of(33, 30) == "33 lives of 30 engines"
    assert lives_of(30, 30) == "30 engines"
    assert lives_of(1, 1) == "1 engine"
    assert lives_of(33, None) == "33 lives"
    assert heads(10, engines=True) == "10 engines"
    assert heads(10, engines=False) == "10 lives"


def test_spells_count_lives_and_engines() -> None:
    s = Spells.of([0, 0, 0], [100.0, 120.0, 80.0], failed=[0, 0, 0], unit=["a", "a", "b"])
    assert not s.counts_engines
    assert s.at_risk(90.0)[0] == 2
    assert s.engines_at_risk(90.0) == 1
    assert s.engines_at_risk(70.0) == 2
    assert s.engines_at_risk(500.0) == 0
    assert Spells.of([0, 0], [100.0, 80.0], failed=[0, 0], unit=["a", "b"]).counts_engines


def test_workshop_counts_lives_of_engines() -> None:
    results, document = results_of("workshop"), document_of("workshop")
    v, claim = results.advice.verdict, results.chapters["claim"]
    assert isinstance(claim, Claim)
    spells = results.spells
    there = (spells.entry < 1000.0) & (spells.exit_upper >= 1000.0)
    assert there.sum() == v.n_reached == claim.n_reached == 33
    assert len(np.unique(spells.unit[there])) == v.n_engines_reached == 30
    assert "33 lives of 30 engines reached 1,000 h" in v.sentence
    assert "99 lives of 72 engines were seen" in claim.may_quote
    assert "33 of these lives, of 30 engines, at 1,000 h" in claim.may_quote
    assert "the last age with 10 lives at risk" in results.advice.horizon.sentence
    at_risk = [t for w, t in texts_of(document) if w == "at-risk"]
    assert "lives" in at_risk[0]
    assert "engines watched" not in at_risk[0]
    groups = table_of(document, "claim-by-group")
    heading = [c.title for c in groups.columns]
    assert "lives" in heading
    assert "lives at 1,000 h" in heading


@pytest.mark.parametrize("name", STUDIES)
def test_numbers_at_an_age_are_engines_only_where_each_has_one_life(name: str) -> None:
    results = results_of(name)
    one = results.spells.counts_engines
    for where, text in texts_of(document_of(name)):
        alone = re.sub(r"lives of [0-9,]+ engines?", "lives", text)
        said = re.search(r"[0-9] engines? (?:(?:were )?at risk|reached|was seen|were seen)", alone)
        assert one or said is None, (where, text)
        if one:
            assert not re.search(r"lives of [0-9,]+ engines? (?:reached|were seen)", text), text


def test_a_table_by_chunks_counts_lives_where_engines_have_more_than_one(tmp_path: Path) -> None:
    rows, claim, more = MADE["two lives each"]
    (tmp_path / "lives.csv").write_text(rows, encoding="utf-8")
    (tmp_path / "study.toml").write_text(
        f'[study]\ntitle = "Chunks"\nanalysis_date = 2026-01-31\n{claim}\n{more}'
        '[merge]\nreturns = false\n[[records]]\nfile = "lives.csv"\n',
        encoding="utf-8",
    )
    long = analyse(read_study(tmp_path), chunks=True)
    claimed = long.chapters["claim"]
    assert isinstance(claimed, Claim)
    assert long.chapters["bulk"].engines_used == 40
    assert claimed.n_lives == 80
    assert claimed.n_engines is None
    assert re.match(r"80 lives were seen", claimed.may_quote)
    assert re.search(r"\b\d+ lives reached 1,000 h", long.advice.verdict.sentence)
    for where, text in texts_of(compose_report(long)):
        assert not re.search(r"[0-9] engines? (?:reached|were seen|at risk)", text), (where, text)
