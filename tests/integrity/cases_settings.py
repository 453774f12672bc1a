"""Cases in the study file: settings, maps, rules, treatments and priors that bend the question."""

from __future__ import annotations

import datetime as dt
from typing import Any

from cases_lives import without_failures
from made import CAUSES, Made, Rows, Trick, changed, failures, honest, lives

CHOSEN = r"(?i)"


def S(name: str, reason: str, rows: Any = honest, records: Any = None, **settings: Any) -> Trick:
    def make() -> Made:
        told = rows() if callable(rows) else rows
        return lives(told, records=records or {}, **settings)

    return Trick(name=name, make=make, reason=reason)


def few(k: int) -> Rows:
    """Return a fleet with k failures among 60 engines."""
    return without_failures()[:50] + failures(honest())[:k]


def carried() -> Rows:
    """Return engines read years ago, whose hours the study carries on."""
    return [r | {"last_reading_date": "2019-06-30", "in_service_date": "2010-05-01"}
            if r["ending"] == "running" else r for r in few(3)]  # fmt: skip


SETTINGS = (
    S("failed read as planned overhaul", r"failed",
      records={"endings": {"failed": "planned-overhaul"}}),
    S("failed read as lost", r"failed", records={"endings": {"failed": "lost"}}),
    S("failed read as running", r"failed", records={"endings": {"failed": "running"}}),
    S("failed read as removed", r"failed", records={"endings": {"failed": "removed"}}),
    S("own word read as running", r"kaputt|engine broke", rows=lambda: changed(honest(),
      ending="engine broke"), records={"endings": {"engine broke": "running"}}),
    S("causes read as prop strike", r"are read as prop strike",
      records={"causes": dict.fromkeys(CAUSES, "prop strike")}),
    S("internal causes censor", r"that failed are censored",
      question={"censoring_causes": [*CAUSES, "prop strike"]}),
    S("one cause in question only", r"from other causes do not count",
      question={"causes": ["gearbox"]}),
    S("level of power loss", r"power|level", question={"level": "power-loss"}),
    S("ending column mapped to another", r"ending|column|note",
      rows=lambda: [r | {"state": "running"} for r in honest()],
      records={"columns": {"ending": "state"}}),
    S("exit hours mapped to another column", r"book_hours",
      rows=lambda: [r | {"book_hours": str(3 * float(r["exit_hours"]))} for r in honest()],
      records={"columns": {"exit_hours": "book_hours"}}),
    S("confidence of one half", r"60 % confidence only", rows=lambda: few(4),
      study={"confidence": 0.2}),
    S("accepted share of 0.6", r"accepts that 60 %", targets={"reliability": 0.4}),
    S("claim of one hour", r"far below what engines ran", study={"claimed_interval_h": 1.0}),
    S("claim of ten hours", r"far below what engines ran", study={"claimed_interval_h": 10.0}),
    S("one engine at risk is enough", r"at risk|min_at_risk|1 engine", rows=lambda: few(2),
      evidence={"min_at_risk": 1}),
    S("prior of shape 9, sure", r"prior|9",
      evidence={"prior_shape_median": 9.0, "prior_shape_log_sd": 0.03, "prior_source": "we know",
                "method": "shape-mixture"}),
    S("prior of shape 6, sure, few failures", r"prior|shape", rows=lambda: few(3),
      evidence={"prior_shape_median": 6.0, "prior_shape_log_sd": 0.02, "prior_source": "we know"}),
    S("posterior with a sure prior", r"prior",
      evidence={"prior_shape_median": 9.0, "prior_shape_log_sd": 0.03, "prior_source": "we know",
                "method": "posterior"}),
    S("shapes of 8 only", r"shape", rows=lambda: few(3), evidence={"shapes": [8.0, 9.0]}),
    S("hours carried on", r"assumed|carr", rows=carried,
      hours={"carry_to_analysis_date": True}, fleet={"hours_per_year": 150.0}),
    S("failures set aside as duplicates", r"set aside|treat", rows=lambda: honest() + [
      r | {"ending": "running", "cause": "", "confirmed": "", "exit_hours": str(
        float(r["exit_hours"]) + 400.0), "ended_date": ""} for r in failures(honest())],
      treat={"duplicate-life": "set-aside"}),
    S("an early day of analysis", r"2016|after|date", study={"analysis_date": dt.date(2016, 1, 1)},
      treat={"date-future": "set-aside"}),
    S("unknown causes compete", r"unknown cause are not counted",
      rows=lambda: changed(honest(), cause=""),
      question={"unknown_cause": "competing", "causes": ["crankshaft"]}),
    S("confirmed asked where nobody says", r"confirm", rows=lambda: changed(honest(),
      confirmed="")),
    S("since overhaul though since new", r"overhaul", hours={"basis": "since-overhaul"}),
    S("meter factor of three", r"factor without a range",
      **{"hours.factors": {"tach": {"factor": 3.0}}},
      records={"meter": "tach"}),
)  # fmt: skip
