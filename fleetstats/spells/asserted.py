"""What a study says of its lives on a typed word alone, and what the records show of it."""

from __future__ import annotations

from collections.abc import Sequence

from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.reading import Records
from fleetstats.study.study import Study

CHECK_SHAPES = ("checks", "leakdown")
"""Shapes of record files that tell of checks."""

CHECK_KINDS = ("check", "finding")
"""Events of a log that are checks."""

CHECK_ENDINGS = ("found-at-check", "removed-finding")
"""Endings of a life that a check made."""


@value
class Asserted(Value):
    """What is asserted of the lives in use, beside what shows it.

    Parameters
    ----------
    n_from_start : int or None
        Lives that count as followed from their start; None where single lives are not looked at.
    n_from_start_unsaid : int or None
        Those of them of which neither a date nor the source says so: their hours of entry are
        blank, and no date of the first observation stands beside the day of entry into service.
    checks_seen : bool
        Whether any check is in the records.
    level : str
        The failure level of the question.
    """

    n_from_start: int | None
    n_from_start_unsaid: int | None
    checks_seen: bool
    level: str

    @property
    def unlooked(self) -> bool:
        """Return whether conditions at a check are in question and no check is in the records."""
        return self.level == "beyond-limits" and not self.checks_seen


def find_asserted(study: Study, records: Records, rows: Sequence[LifeRow]) -> Asserted:
    """Return what is asserted of the lives in use.

    Parameters
    ----------
    study : Study
        Its record files of checks show that there were some.
    records : Records
        The events of its logs.
    rows : sequence of LifeRow
        The lives in use.
    """
    start = [x for x in rows if x.entry_h == 0.0]
    checked = (
        bool(study.of_shape(*CHECK_SHAPES))
        or any(e.kind in CHECK_KINDS for e in records.events)
        or any(x.ending in CHECK_ENDINGS or x.last_good_h is not None for x in rows)
    )
    return Asserted(
        n_from_start=sum(x.count for x in start),
        n_from_start_unsaid=sum(x.count for x in start if not says_start(x)),
        checks_seen=checked,
        level=study.settings.question.level,
    )


def says_start(life: LifeRow) -> bool:
    """Return whether a date or the source says that a life was followed from its start.

    The source does by hours of entry that it gives itself, a log by its first reading, a life after
    an overhaul by that overhaul; dates do where observation began no later than service.
    """
    if life.entry_told or life.life_start_h > 0.0:
        return True
    seen, new = life.observed_from, life.in_service
    return seen is not None and new is not None and seen <= new
