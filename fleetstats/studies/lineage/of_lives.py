"""Figures that are counted from the lives: how many, how long, how old, how many at an age."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from fleetstats.advice.equivalents import exposure_past
from fleetstats.core.units import text_hours
from fleetstats.core.value import Array
from fleetstats.spells.funnel import count_engines
from fleetstats.spells.spells import Spells
from fleetstats.studies.lineage.parts import Asking
from fleetstats.studies.lineage.tracing import Tracing, only
from fleetstats.vocabulary.wording import count, hours_exact


def trace_lives(t: Tracing) -> None:
    """Add what stands behind the answer: engines, lives, failures, hours, ages, rows."""
    r, s = t.results, t.results.spells
    used, rows = r.built.funnel.total.engines_used, r.built.rows
    t.count(
        "engines used", used, lambda _: count_engines(rows) if rows else used,
        printed=(count(used, "engine"),), unit="count",
        rule="Engines that lived the lives counted; an engine of several lives is one, a row that "
        "stands for several equal engines counts them all.",
    )  # fmt: skip
    lives = float(s.weight.sum())
    t.count(
        "lives", lives, lambda x: float(x.weight.sum()),
        printed=(count(lives, "life", "lives"),), unit="count",
        rule="Sum of the weights of the lives counted.",
    )  # fmt: skip
    t.count(
        "failures", s.n_failed, lambda x: x.n_failed, keep=s.failed,
        printed=(count(s.n_failed, "failure"),), unit="count",
        of="lives that ended in the failure in question",
        rule="Sum of the weights of the lives whose event is the failure in question.",
    )  # fmt: skip
    t.count(
        "engine hours", s.exposure_h, lambda x: x.exposure_h,
        printed=(f"{s.exposure_h:,.0f} engine hours", text_hours(s.exposure_h)), unit="h",
        rule="Sum over the lives counted of weight times hours from entry to exit; a failure known "
        "only to lie between two ages counts to the middle between them.",
    )  # fmt: skip
    left = r.built.left_out
    if left:
        t.setting(
            "failures left out", s.n_left_out,
            lambda ask: sum(x.count for x in ask.spells.left_out),
            printed=(count(s.n_left_out, "failure"),), unit="count",
            rows=tuple((x.file, x.row) for x in left),
            rule="Rows that tell of a failure, or may, and that are in no life counted.",
        )  # fmt: skip
    _ages(t, s)
    _at_claim(t, s)
    _rows(t)


def _ages(t: Tracing, s: Spells) -> None:
    h = t.results.advice.horizon
    t.count(
        "oldest age seen", h.oldest_h, lambda x: x.oldest_h, keep=s.exit_upper == s.oldest_h,
        printed=(hours_exact(h.oldest_h), text_hours(h.oldest_h)), unit="h",
        of="the life, or lives, seen to the greatest hours",
        rule="Greatest hours at which any life counted ended.",
    )  # fmt: skip
    claim = t.results.settings.study.claimed_interval_h
    supported = h.supported_h > 0.0
    t.part(
        "end of the evidence", "horizon", lambda x: only(x.supported_h),
        keep=s.exit_upper >= h.supported_h,
        printed=(hours_exact(h.supported_h, claim), text_hours(h.supported_h)), unit="h",
        of="lives seen to these hours or beyond" if supported else "all lives that are counted",
        rule=f"Greatest hours at which at least {h.enough} were at risk: entered before, and ended "
        "at these hours or later.",
    )  # fmt: skip


def _at_claim(t: Tracing, s: Spells) -> None:
    v = t.results.advice.verdict
    if v is None:
        return
    c = v.claimed_h
    there: Array = np.asarray((s.entry < c) & (c <= s.exit_upper))
    told: dict[str, Any] = {
        "of": "lives at risk at the claimed hours",
        "unit": "count",
        "keep": there,
        "figures": ("claimed-hours",),
    }
    if v.n_engines_reached is not None:
        t.count(
            "engines that reached the claim", v.n_engines_reached, lambda x: x.engines_at_risk(c),
            printed=(count(v.n_engines_reached, "engine"),), **told,
            rule="Engines with a life that was entered before the claimed hours and ended there or "
            "later.",
        )  # fmt: skip
    t.count(
        "lives that reached the claim", v.n_reached, lambda x: float(x.at_risk(c)[0]),
        printed=(count(v.n_reached, "life", "lives"),), **told,
        rule="Sum of the weights of the lives entered before the claimed hours and ended there or "
        "later.",
    )  # fmt: skip
    t.count(
        "hours past the claim", v.exposure_past_h, lambda x: exposure_past(x, c),
        keep=np.asarray(s.exit_lower > c), printed=(f"{v.exposure_past_h:,.0f} h",), unit="h",
        of="lives seen past the claimed hours", figures=("claimed-hours",),
        rule="Sum over these lives of weight times the hours past the claimed ones; a failure "
        "known only to lie between two ages counts to the first of them.",
    )  # fmt: skip


def _known(n: float) -> Callable[[Asking], float]:
    return lambda _: n


def _rows(t: Tracing) -> None:
    audit, lives = t.results.audit, t.workshop.lives
    known = {"rows read": audit.n_read, "rows used": audit.n_used,
             "rows set aside": audit.n_set_aside}  # fmt: skip
    again = dict(known)
    if lives is not None:
        again = {"rows read": lives.n_read, "rows used": len(lives.rows_in_lives),
                 "rows set aside": len(lives.rows_in_none)}  # fmt: skip
    rules = {
        "rows read": "Rows of the record files below their heads that are not blank.",
        "rows used": "Rows that some life rests on.",
        "rows set aside": "Rows that became no life, each with its reason.",
    }
    for quantity, n in known.items():
        told: dict[str, Any] = (
            {"figures": ("rows-used", "rows-set-aside")} if quantity == "rows read" else {}
        )
        t.setting(
            quantity, n, _known(again[quantity]), printed=(count(n, "row"),),
            unit="count", rule=rules[quantity], **told,
        )  # fmt: skip
