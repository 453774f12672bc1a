"""A watch as a look in the study's ledger."""

from __future__ import annotations

from fleetstats.studies.watch.values import FleetWatch
from fleetstats.study.history import LedgerLook, rounded, start_look
from fleetstats.study.study import Study


def look_of_watch(study: Study, watch: FleetWatch) -> LedgerLook:
    """Return the look that a watch is: it answers no claim, so it says no verdict's word."""
    return start_look(
        study,
        "watch",
        str(watch.until),
        asked={"from": str(watch.base_day)},
        answers={
            "state": watch.state,
            "running": watch.n_running,
            "hours_since": rounded(watch.hours_since),
            "lines": {f"{x.by} {x.name}".strip(): x.state for x in watch.lines},
        },
    )
