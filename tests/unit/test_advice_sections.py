"""The chapters of claim, plan and hidden facts: whole, drawable, and free of promises."""

from types import SimpleNamespace

import numpy as np
import pytest
from advice_fleets import made_fleet, made_rows, made_settings, reference_fleet

from fleetstats.advice.advise import advise_hours
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.document.cells import check_table, format_cell
from fleetstats.document.document import Explain, Figure, Statement, Table
from fleetstats.report.figures import draw_figure
from fleetstats.spells import Event
from fleetstats.spells.asserted import LivesTold
from fleetstats.survival.weibull.fit_weibull import try_fit


def results(lives, **tables):
    settings = made_settings(**tables)
    rows = made_rows(
        lives, ending=["lost" if i % 40 == 7 else "running" for i in range(len(lives))]
    )
    fit = try_fit(lives)
    built = SimpleNamespace(
        rows=rows,
        n_fate_unknown=3,
        endings=(),
        asserted=None,
        left_out=(),
        funnel=SimpleNamespace(n_built=None),
        since=None,
        told_of=lambda s: LivesTold.of_rows(rows, s),
    )
    base = SimpleNamespace(
        spells=lives, fit=fit, settings=settings, built=built,
        advice=advise_hours(lives, fit, settings),
        description=SimpleNamespace(product_limit=None),
        how_read=SimpleNamespace(quick=False),
    )  # fmt: skip
    done = {}
    for key in ("claim", "plan", "hidden"):
        value = CHAPTERS[key].compute(base, done)
        if value is not None:
            done[key] = value
    done["cautions"] = CHAPTERS["cautions"].compute(base, done)
    return SimpleNamespace(chapters=done, settings=settings)


def finding_fleet():
    fleet = made_fleet(scale_h=9000.0, seed=3)
    event = np.array(fleet.event)
    event[np.flatnonzero(event == 0)[::15]] = Event.FINDING
    return fleet.replace(event=event, source=np.where(np.arange(len(fleet)) % 2, "a", "b"))


BASE = {"per_10000_h": 1.2, "source": "made", "definition": "power loss"}


@pytest.mark.parametrize("lives", [finding_fleet(), made_fleet()], ids=["few", "many"])
def test_chapters_are_whole(lives):
    got = results(lives, base_rate=BASE, targets={"reliability": 0.95},
                  fleet={"hours_per_year": 150.0})  # fmt: skip
    sections = [
        c(got)
        for c in (CHAPTERS["claim"].section, CHAPTERS["plan"].section, CHAPTERS["hidden"].section)
    ]
    assert [s.key for s in sections] == ["claim", "plan", "hidden"]
    text = []
    for block in (b for s in sections for b in s.blocks):
        if isinstance(block, Table):
            check_table(block)
            assert block.rows
            for row in block.rows:
                for value, column in zip(row, block.columns, strict=True):
                    format_cell(value, column.kind)
            text += [block.title, block.see]
        elif isinstance(block, Figure):
            if lives.n_failed < 5:  # the figures of other fleets differ in data alone
                assert draw_figure(block).svg.startswith("<")
            text += [block.see, block.alt]
        elif isinstance(block, Statement | Explain):
            text.append(block.text)
    whole = " ".join(text)
    if lives.n_failed < 5:
        assert "ended by a removal on a finding" in whole
        assert "lost to follow-up" in whole
    assert "safe to" not in whole.lower()
    assert " None" not in whole.replace("None failed", "").replace("“None", "")
    assert "nan" not in whole.lower().split()
    assert "  " not in whole


def test_no_claim_leaves_only_what_is_hidden():
    got = results(reference_fleet(), claim=None)
    assert CHAPTERS["claim"].section(got) is None
    assert CHAPTERS["plan"].section(got) is None
    assert CHAPTERS["hidden"].section(got) is not None


def test_chapter_of_cautions_gathers_all():
    got = results(reference_fleet(), base_rate=BASE)
    codes = {c.code for c in got.chapters["cautions"].items}
    assert {"zero-failures", "fate-unknown", "base-rate-gap", "prior-driven"} <= codes
