"""From the plan of looks and those made to one line for each."""

from __future__ import annotations

from collections.abc import Iterator

from fleetstats.advice.looks.look import ThisLook, look_to_tell
from fleetstats.advice.looks.words import say_share
from fleetstats.chapters.looks.values import LookLine, PlannedLooks
from fleetstats.chapters.looks.words import looks_sentence
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import LOOKS_UNPLANNED
from fleetstats.vocabulary.wording import count


def tell_looks(settings: Settings) -> PlannedLooks | None:
    """Return the looks made and planned; None for one look without a plan."""
    look = look_to_tell(settings)
    if look is None:
        return None
    return PlannedLooks(
        look=look,
        lines=tuple(_lines(look)),
        sentence=looks_sentence(look),
        cautions=tuple(caution_looks(look)),
    )


def _lines(look: ThisLook) -> Iterator[LookLine]:
    spending = len(look.levels) > 0
    for i in range(look.number):
        yield LookLine(
            number=i + 1,
            state="this" if i + 1 == look.number else "made",
            expected=float(look.information[i]) if look.known else None,
            share=float(look.share[i]) if spending else None,
            spent=float(look.spent[i]) if spending else None,
            level=float(look.levels[i]) if spending else None,
        )
    for number in range(look.number + 1, (look.planned or 0) + 1):
        yield LookLine(number=number, state="planned")


def caution_looks(look: ThisLook) -> Iterator[Caution]:
    """Yield what the number of looks takes from a verdict."""
    n, chance, alpha = look.number, say_share(look.at_most), say_share(look.alpha)
    if look.rule == "single" and n >= LOOKS_UNPLANNED:
        yield caution(
            "looks-unplanned", n=n, chance=chance, alpha=alpha,
            value=count(n, "look"), limit="2 looks",
        )  # fmt: skip
    if look.rule == "past-plan":
        planned = f"{look.planned} {'was' if look.planned == 1 else 'were'}"
        yield caution(
            "looks-past-plan", n=n, chance=chance, alpha=alpha, planned=planned,
            value=count(n, "look"), limit=count(look.planned or 0, "look"),
        )  # fmt: skip
