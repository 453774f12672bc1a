"""From results to the brief: its parts in the order in which a person who signs reads them."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.answer import answer_sentences
from fleetstats.chapters.brief.cut import LONGEST_ANSWER, clip
from fleetstats.chapters.brief.parts import (
    CARRIED,
    behind_part,
    cautions_part,
    departures_part,
    ends_part,
    first_cautions_part,
    group_part,
    next_part,
    not_examined_part,
    weakest_part,
)
from fleetstats.chapters.brief.words import BOX, accepted_sentence, question_sentence
from fleetstats.document.brief import Brief, BriefPart
from fleetstats.document.document import Section
from fleetstats.vocabulary.caution import STANDING_NOTICE


def compose_brief(results: Results, beside: tuple[Section, ...]) -> Brief:
    """Return the brief.

    Parameters
    ----------
    results : Results
        A study's results.
    beside : tuple of Section
        What stands beside the answer, as `compose_beside` has it: the answers for each build,
        source and time.
    """
    groups = [group_part(s) for s in beside if s.key not in CARRIED]
    parts: tuple[BriefPart | None, ...] = (
        weakest_part(results),  # among the first lines: what a reader must not miss
        behind_part(results),
        first_cautions_part(results),
        not_examined_part(results),
        departures_part(results),
        *(p for p, _ in groups),
        next_part(results),
        ends_part(results),
        cautions_part(results),
    )
    whole = {p.key for p, is_whole in groups if is_whole}
    # the verdict and the hours; what stands behind them has its own part
    claims = answer_sentences(results)[: 1 if results.advice.verdict is None else 2]
    return Brief(
        question=clip(question_sentence(results)),
        answer=tuple(clip(a, LONGEST_ANSWER) for a in claims),
        accepted=clip(accepted_sentence(results)),
        parts=tuple(p for p in parts if p is not None),
        notice=STANDING_NOTICE,
        box=BOX,
        carried=tuple(s.key for s in beside if s.key in whole or s.key in CARRIED),
    )
