"""All cautions of a study, as its last chapter."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fleetstats.chapters.cautions.compute import collect_cautions
from fleetstats.chapters.cautions.quick import caution_quick
from fleetstats.chapters.plan import Plan
from fleetstats.core.value import Value, value
from fleetstats.vocabulary.caution import Caution

if TYPE_CHECKING:
    from fleetstats.advice.results import Results


@value
class CautionList(Value):
    """All cautions of a study."""

    items: tuple[Caution, ...]


def chapter_cautions(base: Results, done: Mapping[str, Value]) -> CautionList:
    """Return every caution that applies, those of the chapters before it included."""
    plan = done.get("plan")
    return CautionList(
        items=caution_quick(base.how_read)
        + collect_cautions(
            base.spells,
            base.fit,
            base.settings,
            base.advice,
            built=base.built,
            plan=plan if isinstance(plan, Plan) else None,
            results=(base.description.product_limit, *done.values()),
        )
    )
