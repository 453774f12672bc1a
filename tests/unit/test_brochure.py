"""The sentence for a brochure is short, true of the claim, and never without its footnote."""

from __future__ import annotations

from dataclasses import replace

import pytest
from advice_fleets import made_fleet, made_settings, reference_fleet

from fleetstats.chapters.claim import advise_claim, write_brochure
from fleetstats.chapters.claim.brochure import MOST_WORDS
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.wording import at_most

CASES = [
    ("supported", reference_fleet(), 1200.0, 0.95),
    ("not-yet-shown", reference_fleet(), 2000.0, 0.5),
    ("not-yet-shown", reference_fleet(), 1200.0, 0.999),
    ("contradicted", made_fleet(shape=1.5, scale_h=1500.0), 1200.0, 0.999),
]


@pytest.mark.parametrize(("state", "fleet", "hours", "target"), CASES)
def test_a_printed_sentence_is_short_and_has_a_footnote(state, fleet, hours, target) -> None:
    settings = made_settings()
    claim = advise_claim(fleet, settings, hours, target, fit=try_fit(fleet))
    assert claim.state == state
    printed = write_brochure(claim, settings)
    assert len(printed.may.split()) <= MOST_WORDS
    assert printed.footnote
    assert printed.may_not.startswith("“")
    if state == "contradicted":
        assert printed.may == ""
        assert "contradict" in printed.footnote
    else:
        assert printed.may.endswith("*")
        assert printed.footnote.startswith("* ")
    if state == "supported":
        assert at_most(claim.failure_high, 1.0 - target) in printed.may
    else:
        assert f"fail by {hours:,.0f} h" not in printed.may


def test_what_is_open_stands_in_the_footnote() -> None:
    settings, fleet = made_settings(), reference_fleet()
    claim = advise_claim(fleet, settings, 1200.0, 0.95, fit=None)
    told = write_brochure(replace(claim, provisos=("5 failures have no hours",)), settings)
    assert "but 5 failures have no hours" in told.footnote
