"""The caution of a study that left chapters out to be quick."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import count

if TYPE_CHECKING:
    from fleetstats.advice.results import HowRead


def caution_quick(how: HowRead) -> tuple[Caution, ...]:
    """Return the caution that a quick study left chapters out, and how many."""
    if not how.quick:
        return ()
    n = count(len(how.left_out), "part")
    return (caution("quick-study", value=n, limit="0 parts", n=n),)
