"""[merge]: how returns that tell of the same engine become one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fleetstats.study.key import VERDICT, key
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id


@dataclass(frozen=True, slots=True, kw_only=True)
class MergeKeys:
    """[merge]: what counts as the same event, and what was decided where returns disagree."""

    returns: bool = key(
        "Merge what several returns tell of the same engine.", default=True, role=VERDICT
    )
    hours_alike: float = key(
        "Two reports of one event differ by no more than this share of the hours.",
        default=0.02,
        low=0.0,
        high=0.2,
        role=VERDICT,
    )
    days_alike: int = key(
        "Two reports of one event differ by no more than this.",
        default=60,
        low=0,
        unit="days",
        role=VERDICT,
    )
    score_least: float = key(
        "Agreement score from which two events of engines whose ids differ are shown as a pair.",
        default=8.0,
        unit="bits",
    )
    same_population: tuple[str, ...] = key(
        "Sources that each set out to tell every failure of the same engines, also where one lists "
        "no engine that runs, such as a shop that writes down repairs alone. Without it only "
        "engines that two sources list are taken as told by both.",
        default=(),
    )
    decisions: tuple[dict[str, Any], ...] = key(
        "What was decided on a conflict: engine, take, reason. take is 'proposed', 'separate' "
        "(two engines bear this id) or a row as the conflict names it, such as 'club.csv row 12'.",
        default=(),
        role=VERDICT,
    )


def check_population(merge: MergeKeys, problems: list[str]) -> None:
    """Add a sentence to `problems` where one source alone is said to share its engines."""
    if len({fold(s) for s in merge.same_population}) == 1:
        problems.append(
            "merge.same_population: names one source. Name two or more, or leave it out."
        )


DECISION_KEYS = ("engine", "take", "reason")


def check_decisions(merge: MergeKeys, problems: list[str]) -> None:
    """Add a sentence to `problems` for each decision that cannot be one."""
    seen: set[str] = set()
    for i, d in enumerate(merge.decisions, start=1):
        where = f"merge.decisions[{i}]"
        for k, v in d.items():
            if k not in DECISION_KEYS:
                problems.append(f"{where}.{k}: unknown key. Known are: {', '.join(DECISION_KEYS)}.")
            elif not isinstance(v, str):
                problems.append(f"{where}.{k}: must be a text in quotation marks.")
        blank = [k for k in DECISION_KEYS if not str(d.get(k, "")).strip()]
        problems += [f"{where}.{k}: is missing." for k in blank]
        engine = str(d.get("engine", ""))
        if engine and normalise_id(engine) in seen:
            problems.append(f"{where}.engine: '{engine}' was decided on before.")
        seen.add(normalise_id(engine))
