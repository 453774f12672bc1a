"""Which settings of a study are declared, and which of them can turn a verdict.

Declared is what can be said before any record is seen: the question, the targets, what counts as a
failure, the list of serials, the looks planned and the rule of review. How the words of a record
file are read is not: nobody knows them before.
"""

from __future__ import annotations

from dataclasses import field
from typing import Any

from fleetstats.core.provenance import digest_file
from fleetstats.core.value import Value, plain, value
from fleetstats.study.history.look import COUNTED, canonical
from fleetstats.study.key import VERDICT
from fleetstats.study.leaves import Leaf, leaves_of
from fleetstats.study.study import Study

CUT_OFF = "study.analysis_date"
"""Date to which records are complete. A later one is a later look, which the ledger counts; an
earlier one leaves out what happened since."""

ASKED = {
    CUT_OFF: True,
    "study.claimed_interval_h": True,
    "study.commercial": False,
    "hours.meter": True,
    "hours.basis": True,
    "hours.component": True,
    "question.name": False,
    "check.interval_h": False,
    "targets.risk_per_check": False,
    "targets.accepted_failure_at_claim": True,
    "fleet.built": True,
    "base_rate.per_10000_h": False,
    "base_rate.definition": False,
    "looks.every": False,
    "decision.stop_failures": False,
    "decision.review_months": False,
}
"""Settings that are declared beside those that can turn a verdict by their role, and whether
another value can turn the verdict on what was declared."""

SERIALS = "fleet.serials_file"
"""Under this key the list of serials is told, by its digest and count."""


@value
class Declarable(Value):
    """What a study would declare as it stands.

    Parameters
    ----------
    settings : dict
        Value of each declared setting by its key, as JSON has it.
    serials : dict
        Of the list of serials: name of the file, SHA-256, count; empty where there is none.
    """

    settings: dict[str, Any] = field(default_factory=dict)
    serials: dict[str, Any] = field(default_factory=dict)

    def is_again(self, other: Declarable) -> bool:
        """Return whether both declare the same."""
        return canonical([self.settings, self.serials]) == canonical(
            [other.settings, other.serials]
        )


def declarable_of(study: Study, n_serials: int = 0) -> Declarable:
    """Return what a study declares as it stands.

    Parameters
    ----------
    study : Study
        The study; its records need not be there.
    n_serials : int
        Serials on its list, each once.
    """
    name = study.settings.fleet.serials_file
    serials: dict[str, Any] = {}
    if name:
        path = study.folder.joinpath(*name.replace("\\", "/").split("/"))
        serials = {"file": name, "sha256": digest_file(path), "count": n_serials}
    return Declarable(
        settings={x.key: plain(x.value) for x in declared_leaves(study)}, serials=serials
    )


def declared_leaves(study: Study) -> tuple[Leaf, ...]:
    """Return the settings of a study that are declared."""
    return tuple(
        x
        for x in leaves_of(study)
        if not x.number and x.key not in COUNTED and (x.role == VERDICT or x.key in ASKED)
    )


def can_turn(key: str, was: Any, now: Any) -> bool:
    """Return whether a change of a declared setting can turn the verdict on what was declared."""
    if key == CUT_OFF:
        return str(now) < str(was)
    return ASKED.get(key, True)
