"""What stands against a sceptic's reasons to put a report aside, where no other test holds it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from advice_fleets import made_settings, reference_fleet
from report_document import make_document

from fleetstats.advice.advise import advise_hours
from fleetstats.chapters.claim.compute import advise_claim
from fleetstats.chapters.compose import compose_report
from fleetstats.core.units import text_hours
from fleetstats.document.document import Explain, Statement, Table
from fleetstats.document.parts import data_version, walk_blocks
from fleetstats.report.html import page_html
from fleetstats.report.json import document_json
from fleetstats.report.tables import tables_xlsx
from fleetstats.studies import analyse as door
from fleetstats.studies.analyse import lives_of
from fleetstats.vocabulary.caution import STANDING_NOTICE


def test_no_failures_never_stand_alone() -> None:
    """The sentence that may be quoted has bound, side, exposure and the count that breaks it."""
    fleet = reference_fleet()
    settings = made_settings(targets={"reliability": 0.95})
    quote = advise_claim(fleet, settings).may_quote
    assert "no engine failures" in quote
    for part in ("95 % confidence (one-sided upper bound)", "at most", "195,000 h", "260 engines",
                 "unreported failures"):  # fmt: skip
        assert part in quote, part
    verdict = advise_hours(fleet, None, settings).verdict
    assert verdict is not None
    assert "at one-sided 95 % confidence" in verdict.sentence
    assert "unreported failure" in verdict.sentence


LIVES = "engine,exit_hours,ending,cause,build\n" + "\n".join(
    f"E-{i:03},{400 + 12 * i},{'failed' if i in (20, 45) else 'running'},"
    f"{'piston' if i in (20, 45) else ''},{'old' if i % 4 == 0 else 'new'}"
    for i in range(80)
)
# engines 20 and (by the line below) 44 are of the old build, which alone can have the defect
LIVES = LIVES.replace("E-045,940,failed,piston", "E-045,940,running,").replace(
    "E-044,928,running,,old", "E-044,928,failed,piston,old"
)
CLAIM = "claimed_interval_h = 900\n"


@pytest.fixture
def document(make_study: Callable[..., Any], monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setattr(door, "CHAPTERS", {})
    return compose_report(door.analyse(make_study(LIVES + "\n", CLAIM)))


def test_no_mean_time_between_failures_of_lives_is_printed(document: Any) -> None:
    """A mean hides age; none is said of lives. (Repairable systems have a chapter of their own.)"""
    text = " ".join(
        b.text if isinstance(b, Statement | Explain) else f"{b.title} {b.see}"
        for _, b in walk_blocks(document)
    )
    text += " ".join(c.title for _, b in walk_blocks(document) if isinstance(b, Table)
                     for c in b.columns)  # fmt: skip
    assert len(text) > 5000
    assert not re.search(r"MTB|mean time|mean life|average life", text, re.IGNORECASE)


def test_engines_that_cannot_have_the_defect_do_not_dilute_the_risk(
    make_study: Callable[..., Any],
) -> None:
    """Both failures are of the old build; a rule takes the new one out, with its reason."""
    rule = (
        '[question]\nrules = [{ build = "new", counts_as = "excluded", '
        'reason = "cannot have the defect" }]\n'
    )
    averaged = lives_of(make_study(LIVES + "\n", CLAIM))
    alone = lives_of(make_study(LIVES + "\n", CLAIM + rule))
    assert (len(averaged.spells), len(alone.spells)) == (80, 20)
    assert averaged.spells.n_failed == alone.spells.n_failed == 2
    (line,) = alone.funnel.sources
    assert line.life_losses == {"cannot have the defect": 60}
    settings = made_settings(claim=900.0)
    high = [advise_claim(b.spells, settings).worst.failure_high for b in (averaged, alone)]
    assert high[1] > 2.0 * high[0]
    # and the claim by group shows it without any rule
    by = {s.name: s.failure_high for s in advise_claim(averaged.spells, settings).subsets}
    assert by["old"] == pytest.approx(advise_claim(alone.spells, settings).failure_high, rel=0.02)
    assert by["new"] < high[0]


def test_the_page_on_years_is_always_there(document: Any) -> None:
    (section,) = [s for s in document.sections if s.key == "calendar"]
    assert "none of 80 lives have the dates" in section.blocks[0].text
    assert section.blocks[0].tone == "missing"


def test_the_notice_stands_on_every_face() -> None:
    from fleetstats.report.pdf import report_pdf

    document = make_document()
    page = re.sub(r"&#39;|&#x27;", "'", page_html(document))
    told = document_json(document)
    for line in STANDING_NOTICE:
        assert line in page
        assert line.replace('"', '\\"') in told
    import io

    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(tables_xlsx(document)), read_only=True)
    cells = {str(v) for sheet in book for row in sheet.iter_rows(values_only=True) for v in row}
    book.close()
    assert any("not airworthiness approval" in c for c in cells)
    assert report_pdf(document).startswith(b"%PDF")


def test_method_and_data_version_stand_on_every_face() -> None:
    """On the page's foot, on its print, in the data file (on paper: see test_report_pdf)."""
    document = make_document()
    page = page_html(document)
    told = json.loads(document_json(document))
    assert told["data_version"] == data_version(document)
    assert told["method"] == document.method
    assert told["provenance"]["versions"]
    foot = page[page.index('<footer class="foot">') :]
    for part in (document.report_id, document.method, data_version(document)):
        assert part in foot
    printed = page[page.index("@page { @bottom-left") :][:400]
    assert data_version(document) in printed


def test_hours_of_advice_are_whole_fifties() -> None:
    """Whatever the fleet, no advice is finer than 50 h."""
    for scale in (1.0, 1.07, 1.31):
        fleet = reference_fleet()
        moved = fleet.replace(
            exit_lower=scale * fleet.exit_lower, exit_upper=scale * fleet.exit_upper
        )
        band = advise_hours(moved, None, made_settings()).overhaul_band
        for edge in (band.plan_from, band.not_beyond):
            assert edge.hours is not None
            assert edge.hours % 50 == 0
            assert text_hours(edge.hours) in band.sentence
    assert np.isfinite(band.plan_from.hours or np.nan)
