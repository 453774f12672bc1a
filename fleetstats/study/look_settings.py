"""[looks]: how often the records are to be looked at, and how error is held over all looks."""

from __future__ import annotations

from dataclasses import dataclass

from fleetstats.study.key import FACT, VERDICT, key

MOST_LOOKS = 200
"""Looks that a plan may hold: one a month for sixteen years."""

PERIODS = {"year": "yearly", "half-year": "half-yearly", "quarter": "quarterly", "month": "monthly"}
"""Time from one planned look to the next, and how such looks are called."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LookKeys:
    """[looks]: looks planned at records that grow, so that chance is shared out among them."""

    planned: int | None = key(
        "Looks planned in all. The chance of a wrong verdict is then held over all of them "
        "together; without a plan each look holds it by itself.",
        low=1,
        high=MOST_LOOKS,
        role=VERDICT,
    )
    every: str = key(
        "Time from one planned look to the next.",
        default="year",
        choices=tuple(PERIODS),
        role=FACT,
    )
    rule: str = key(
        "How: 'spending' shares the chance out over the looks planned; 'any-number' holds at every "
        "look however many, and asks for more evidence.",
        default="spending",
        choices=("spending", "any-number"),
        role=VERDICT,
    )
    made: int | None = key(
        "Looks made so far, this one counted, where no history of the study tells it.",
        low=1,
        role=FACT,
    )
    information: tuple[float, ...] = key(
        "Failures expected at each look so far if the claim were exactly at its limit, this look "
        "last, where no history of the study tells them.",
        default=(),
        low=0.0,
        role=FACT,
    )


def check_looks(keys: LookKeys, problems: list[str]) -> None:
    """Add a sentence to `problems` where the looks made do not fit together."""
    n = len(keys.information)
    if keys.made is not None and n and n != keys.made:
        problems.append(
            f"looks.information has {n} entries and looks.made is {keys.made}; give one for each "
            "look made, this one last."
        )
    if any(b < a for a, b in zip(keys.information, keys.information[1:], strict=False)):
        problems.append(
            f"looks.information = {list(keys.information)} falls; hours seen stay seen, so that "
            "the failures expected only rise from look to look."
        )
