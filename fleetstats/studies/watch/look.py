"""A watch as a look in the study's ledger."""

from __future__ import annotations

from fleetstats import __version__
from fleetstats.studies.watch.values import FleetWatch
from fleetstats.study.history import LedgerLook, chosen_of, digest_data, rounded
from fleetstats.study.study import Study


def look_of_watch(study: Study, watch: FleetWatch) -> LedgerLook:
    """Return the look that a watch is: it answers no claim, so it says no verdict's word."""
    return LedgerLook(
        verb="watch",
        date=str(watch.until),
        data=digest_data(study),
        study_file="" if study.source is None else study.source.sha256,
        chosen=chosen_of(study),
        asked={"from": str(watch.base_day)},
        answers={
            "state": watch.state,
            "running": watch.n_running,
            "hours_since": rounded(watch.hours_since),
            "lines": {f"{x.by} {x.name}".strip(): x.state for x in watch.lines},
        },
        version=__version__,
    )
