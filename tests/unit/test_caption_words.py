"""Captions say what their figures show: each with figures on both sides of its condition.

The limits (5 %, two units of log likelihood) are named in `document/caption_words.py`. Common
sense, no source. Then the captions of real reports are held to the tables beside them.
"""

from __future__ import annotations

import numpy as np
import pytest
from made_studies import STUDIES, document_of, results_of, table_of, texts_of

from fleetstats.core.units import text_hours
from fleetstats.document.caption_words import (
    LITTLE,
    is_little,
    say_carried,
    say_claim_shapes,
    say_fan,
    say_groups,
    say_options,
    say_other_curves,
    say_over_shapes,
    say_regret,
    say_slip,
)

HOURS = np.array([500.0, 1000.0, 2000.0])
BOTH = [
    (say_over_shapes([985.0, 958.0, 980.0, 1004.0], 1190.0), "matters little", "moves"),
    (say_over_shapes([449.0, 721.0, 866.0, 962.0], 1494.0), "moves this age from 449 h to 962 h",
     "little"),
    (say_over_shapes([1800.0, 1850.0], 1544.0), "Hours beyond 1,544 h", "moves"),
    (say_over_shapes([1400.0, 1450.0], 1544.0), "matters little", "beyond"),
    (say_claim_shapes([0.08, 0.081], 0.1), "matters little", "decides"),
    (say_claim_shapes([0.14, 0.21], 0.1), "from 14 % to 21 %", "decides"),
    (say_claim_shapes([0.0994, 0.1083], 0.1), "decides whether the accepted", "little"),
    (say_claim_shapes([0.2, 0.2], 0.1), "hardly moves", "from"),
    (say_fan(HOURS, np.array([0.1, 0.2, 0.3]), np.array([0.1, 0.21, 0.6]), 1000.0),
     "fans out past 1,000 h", "extrapolation"),
    (say_fan(HOURS, np.array([0.1, 0.2, 0.5]), np.array([0.3, 0.4, 0.6]), 1000.0),
     "extrapolation", "fans out"),
    (say_fan(HOURS, HOURS / 4000, HOURS / 2000, 2000.0), "every assumed shape.", "fans out"),
    (say_groups([0.2, 0.3], 0.15, 2), "2 of 2 show less", "none of"),
    (say_groups([0.2, 0.1], 0.15, 1), "1 of 2 shows less", "none of"),
    (say_groups([0.1, 0.1], 0.15, 0), "none of 2", "no sign"),
    (say_options([(0.05, 0.08, 0.3, 0.2), (0.04, 0.08, 0.3, 0.2)]),
     "buy more than the oldest run on at every shape, and put more at stake at every shape",
     "at no"),
    (say_options([(0.05, 0.08, 0.2, 0.3)]), "more at stake at no shape", "2 shapes"),
    (say_options([(0.05, 0.08, 0.2, 0.3), (0.09, 0.08, 0.4, 0.3)]),
     "buy more than the oldest run on at 1 of 2 shapes, and put more at stake at 1 of 2", "every"),
    (say_slip(np.array([[0.30, 0.40], [0.302, 0.404]])), "differ little", "; the shares"),
    (say_slip(np.array([[0.080, 0.31], [0.070, 0.29]])), "differ by up to 2 percentage", "little"),
    (say_regret([0.1, 0.33]), "from 10 % to 33 % fail before", "The later"),
    (say_regret([0.1]), "The later the age", "within"),
    (say_carried([0.0, 0.13, 0.54]), "All rows lie within 2", "worse"),
    (say_carried([0.0, 0.13, 3.0]), "1 row lies more than 2 below", "cannot tell"),
    (say_other_curves([1063.0, 1094.0], "B10 life", 2240.0), "differ little", "beyond"),
    (say_other_curves([1353.0, 2546.0], "B10 life", 1190.0), "partly beyond 1,190 h", "little"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "says", "does_not"), BOTH)
def test_a_caption_follows_its_figures(text: str, says: str, does_not: str) -> None:
    assert says in text
    assert does_not not in text


@pytest.mark.parametrize("name", STUDIES)
def test_captions_of_assumed_shapes_agree_with_the_table_beside_them(name: str) -> None:
    document = document_of(name)
    end = results_of(name).advice.horizon.supported_h
    shapes = table_of(document, "over-shapes")
    if shapes is not None:
        lows = [float(r[1]) for r in shapes.rows if r[1] is not None]
        span = max(lows) - min(lows)
        assert ("matters little" in shapes.see) == (span <= LITTLE * min(lows))
        assert text_hours(min(lows)) in shapes.see
        assert text_hours(max(lows)) in shapes.see
        assert ("Hours beyond" in shapes.see) == (max(lows) > end)
    claims = table_of(document, "claim-by-shape")
    if claims is not None:
        highs = [float(r[2]) for r in claims.rows]
        assert is_little(highs) or "little" not in claims.see
        accepted = results_of(name).advice.verdict.accepted_failure
        decides = "decides whether" in claims.see
        assert decides == (min(highs) <= accepted < max(highs))


@pytest.mark.parametrize("name", STUDIES)
def test_captions_of_groups_options_and_slip_agree_with_their_tables(name: str) -> None:
    document, results = document_of(name), results_of(name)
    groups = table_of(document, "claim-by-group")
    claim = results.chapters.get("claim")
    if groups is not None:
        at = [c.key for c in groups.columns].index("failure_high")
        less = sum(float(r[at]) > claim.failure_high for r in groups.rows)
        assert f"{less or 'none'} of {len(groups.rows)} show" in groups.see
        assert ("no sign" in groups.see) == any(r[-1] != "shown" for r in groups.rows)
    options = table_of(document, "plan-options")
    if options is not None:
        at = [c.key for c in options.columns].index("chance_worse")
        news = {r[0]: r for r in options.rows if r[1] == "new engines"}
        olds = {r[0]: r for r in options.rows if r[1] != "new engines"}
        more = [news[b][at] > olds[b][at] for b in news if b in olds and olds[b][2]]
        assert ("more at stake at every shape" in options.see) == (bool(more) and all(more))
        assert ("more at stake at no shape" in options.see) == (bool(more) and not any(more))
    slip = table_of(document, "check-slip")
    if slip is not None:
        shares = [[float(x) for x in r[1:4]] for r in slip.rows]
        assert ("differ little" in slip.see) == all(is_little(s) for s in shares)


@pytest.mark.parametrize("name", STUDIES)
def test_no_caption_says_as_a_rule_what_only_some_figures_show(name: str) -> None:
    fixed = (
        "Within the ages seen the shape matters little",
        "Within the hours seen the shape matters little",
        "mostly shows less than the whole",
        "so the shares differ little;",
        "Other curves change the answer little where engines were seen",
        "New engines buy more, and put more at stake:",
    )
    for where, text in texts_of(document_of(name)):
        assert not [f for f in fixed if f in text], (where, text)
