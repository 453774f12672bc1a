"""The weakest points of whole studies: their words, their figures beside those of other chapters.

And what was not examined. Invented records, no source.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from made_studies import DATASETS, document_of, results_of

from fleetstats.advice.judge import judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.results import Results
from fleetstats.chapters.between_sources import BetweenSources
from fleetstats.chapters.claim import Claim
from fleetstats.chapters.compose import compose_report
from fleetstats.chapters.groups import Pooled
from fleetstats.chapters.hidden import Hidden
from fleetstats.chapters.weakest import Weakest
from fleetstats.chapters.weakest.compute import SHOWN, find_weakest
from fleetstats.chapters.weakest.gaps import list_gaps
from fleetstats.core.units import text_decided
from fleetstats.document.document import Document, Statement
from fleetstats.document.parts import walk_blocks
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.wording import NOT_LIKELY_TO_SHOW, at_most


def made(kind: Any, /, **fields: Any) -> Any:
    """Return a value of a kind with the fields that a rule reads; reading another fails."""
    out = object.__new__(kind)
    for name, x in fields.items():
        object.__setattr__(out, name, x)
    return out


def told(r: Results) -> Weakest:
    found = r.chapters["weakest"]
    assert isinstance(found, Weakest)
    return found


@pytest.mark.parametrize("name", ["quiet-fleet", "few failures", "no claim", "very few lives"])
def test_sentences_are_short_and_the_page_shows_them(name: str) -> None:
    r = results_of(name)
    w = told(r)
    assert len(w.points) <= SHOWN
    for p in (*w.points, *w.others):
        assert len(p.sentence.split()) <= 30, p.sentence
        assert p.moved >= 0.0 or not p.decides
    beside = {s.key for s in document_of(name).beside}
    assert {"beside-weakest", "beside-not-examined"} <= beside
    assert (r.advice.verdict is not None) or not w.points
    assert "points" in r.to_dict()["chapters"]["weakest"]


def test_the_quiet_fleet_hears_too_little_of_a_public_rate() -> None:
    """The shares are worked out anew: 3.0 failures allowed (Garwood 1936) over those due."""
    r = results_of("quiet-fleet")
    first = told(r).points[0]
    due = 1.2e-4 * r.spells.exposure_h
    assert first.key == "public-rate"
    assert first.figure == pytest.approx(-math.log(0.05) / due, rel=1e-9)
    v = r.advice.verdict
    assert v is not None
    needed = math.log(v.reliability.low or 0.0) / math.log(0.95)
    assert first.limit == pytest.approx(needed, rel=1e-6)
    assert "allows at most 13 % of failures to be reported while the claim needs 46 %" in (
        first.sentence
    )
    assert {"hidden-failures"} <= {p.key for p in told(r).points}


def test_the_tow_clubs_estimate_exceeds_what_is_accepted() -> None:
    r = results_of("tow-clubs")
    first = told(r).points[0]
    v = r.advice.verdict
    assert v is not None
    assert first.key == "estimate-above"
    assert first.figure == pytest.approx(1.0 - (v.reliability.estimate or 0.0))
    assert "(13 %) exceeds the accepted 10 %" in first.sentence
    assert "further running is not likely to show it" in first.sentence


@pytest.mark.parametrize("name", ["quiet-fleet", "tow-clubs", "workshop"])
def test_its_figures_are_those_of_the_other_chapters(name: str) -> None:
    """A number asked of two parts of a report is one number."""
    r, claim = results_of(name), results_of(name).chapters["claim"]
    found = {p.key: p for p in (*told(r).points, *told(r).others)}
    assert isinstance(claim, Claim)
    seen = set()
    if p := found.get("hidden-failures"):
        h = r.chapters["hidden"]
        assert isinstance(h, Hidden)
        assert h.tipping is not None
        assert p.figure == h.tipping.least
        assert f"{h.tipping.least} unreported failures" in p.sentence
        assert f"{h.tipping.least} unreported failures" in h.sentence
        seen.add(p.key)
    if p := found.get("public-rate"):
        h = r.chapters["hidden"]
        assert isinstance(h, Hidden)
        assert h.base_rate is not None
        assert (p.figure, p.limit) == (h.base_rate.share_high, h.reporting_share)
        share = at_most(p.figure, p.limit)
        assert f"at most {share}" in p.sentence
        assert share in h.base_rate.sentence
        seen.add(p.key)
    if p := found.get("another-source"):
        s = r.chapters["between-sources"]
        assert isinstance(s, BetweenSources)
        assert s.claim is not None
        assert p.figure == s.claim.new_failure_high
        assert f"at most {at_most(p.figure, p.limit)} fail" in s.sentence
        assert f"at most {at_most(p.figure, p.limit)} fail" in p.sentence
        seen.add(p.key)
    if p := found.get("too-little"):
        assert p.figure == pytest.approx(claim.failure_high, rel=1e-9)
        assert at_most(p.figure, p.limit) in p.sentence
        seen.add(p.key)
    if p := found.get("carried"):
        pooled = r.chapters["pooling"]
        assert isinstance(pooled, Pooled)
        line = [x for x in pooled.influence if x.name in p.sentence]
        assert line
        assert line[0].n_out == p.figure
        assert p.by_size is not line[0].carries
        seen.add(p.key)
    if p := found.get("estimate-above"):
        words_of = text_decided(p.figure, p.limit)
        assert f"({words_of})" in p.sentence
        assert any(NOT_LIKELY_TO_SHOW in s for s in says(document_of(name), "plan"))
        seen.add(p.key)
    assert seen == set(found), "a point of which no other chapter was asked"


def says(document: Document, key: str) -> list[str]:
    return [b.text for s, b in walk_blocks(document) if s.key == key and isinstance(b, Statement)]


def test_a_table_read_by_chunks_has_its_weak_points_and_says_what_it_lacks(tmp_path: Path) -> None:
    """Those that rest on no single life are the same as with the rows read whole."""
    rows = (DATASETS / "quiet-fleet" / "fleet.csv").read_text("utf-8")
    (tmp_path / "lives.csv").write_text(rows, "utf-8")
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "x"\nanalysis_date = 2026-09-30\nclaimed_interval_h = 1200\n'
        '[targets]\nreliability = 0.95\n[[records]]\nfile = "lives.csv"\n',
        "utf-8",
    )
    long = analyse(read_study(tmp_path), chunks=True)
    assert [p.key for p in told(long).points] == ["hidden-failures", "carried"]
    assert told(long).points[0].figure == 3.0
    whole = analyse(read_study(tmp_path), chunks=False)
    assert gaps(long) - {"chunks"} == gaps(whole) - {"untold"}
    said = {x.key: x.sentence for x in list_gaps(whole)}
    assert all(said[x.key] == x.sentence for x in list_gaps(long) if x.key != "chunks")
    assert {"beside-weakest", "beside-not-examined"} <= {s.key for s in compose_report(long).beside}


def test_failures_fewer_by_as_many_turn_a_contradicted_claim() -> None:
    """The share is worked out by a rule for counts; here the claim is judged anew without them."""
    r = results_of("on-condition")
    p, v = told(r).points[0], r.advice.verdict
    assert v is not None
    assert (p.key, v.word) == ("counted-failures", "contradicted")
    failed = np.flatnonzero(r.spells.event)
    middle = failed[np.argsort(r.spells.exit_lower[failed])][len(failed) // 2 :]
    event = r.spells.event.copy()
    event[middle[: int(p.figure)]] = 0
    fewer = r.spells.replace(event=event)
    assert fewer.n_failed == r.spells.n_failed - p.figure
    lives = Quoter.of(fewer, try_fit(fewer), r.settings)
    assert judge_claim(lives, v.claimed_h, 1.0 - v.accepted_failure).word != "contradicted"


def gaps(r: Results) -> set[str]:
    return {g.key for g in list_gaps(r)}


def test_what_was_not_examined() -> None:
    """Each gap goes once the records or settings hold what it misses."""
    r = results_of("no dates")
    seen = gaps(r)
    assert {"checks", "dates", "teardowns", "serials", "calendar", "sources", "log",
            "untold", "public-rate"} <= seen  # fmt: skip
    rows = tuple(replace(x, last_reading=dt.date(2026, 1, 1)) for x in r.built.rows)
    assert "dates" not in gaps(replace(r, built=replace(r.built, rows=rows)))
    rows = (replace(rows[0], found_at_teardown=False), *rows[1:])
    assert "teardowns" not in gaps(replace(r, built=replace(r.built, rows=rows)))
    asserted = r.built.asserted
    assert asserted is not None
    looked = replace(asserted, checks_seen=True)
    assert "checks" not in gaps(replace(r, built=replace(r.built, asserted=looked)))
    for chapter, key in (("calendar", "calendar"), ("between-sources", "sources"),
                         ("unreported", "untold")):  # fmt: skip
        assert key not in gaps(replace(r, chapters={**r.chapters, chapter: made(Weakest)}))
    s = r.settings
    rated = replace(s, base_rate=replace(s.base_rate, per_10000_h=1.0),
                    fleet=replace(s.fleet, serials_file="serials.csv"))  # fmt: skip
    more = gaps(replace(r, study=replace(r.study, settings=rated)))
    assert not {"serials", "public-rate"} & more


def test_the_tow_clubs_records_hold_what_others_miss() -> None:
    assert gaps(results_of("tow-clubs")) == {"serials", "untold", "public-rate", "declared"}
    assert {"sources", "log", "checks"} <= gaps(results_of("quiet-fleet"))


def test_nothing_is_weighed_without_a_claim() -> None:
    r = results_of("no claim")
    assert find_weakest(r, r.chapters).points == ()
    assert told(r).points == ()
