"""The cautions on answers that count only what happened after a date."""

from __future__ import annotations

from fleetstats.spells.days.since import SinceCut
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import count


def caution_since(cut: SinceCut | None) -> list[Caution]:
    """Return what conditions since a date leave out and keep; nothing without such a date."""
    if cut is None:
        return []
    out = []
    if cut.n_over or cut.hours_before > 0:
        hours = f"{cut.hours_before:,.0f} h"
        out.append(
            caution(
                "since-date", value=hours, limit="0 h", day=cut.day, hours=hours,
                n=count(cut.n_over, "life", "lives"), failed=count(cut.failed_over, "failure"),
            )
        )  # fmt: skip
    for key, k, one, many in (
        ("since-undated/lives", cut.n_undated, "life", "lives"),
        ("since-undated/failures", cut.undated_failed, "failure", "failures"),
    ):
        if k:
            n = count(k, one, many)
            are = "is" if k == 1 else "are"
            out.append(caution(key, value=n, limit=f"0 {many}", n=n, day=cut.day, are=are))
    if cut.n_open:
        n = count(cut.n_open, "life", "lives")
        out.append(caution("since-open-days", value=n, limit="0 lives", n=n, day=cut.day))
    return out
