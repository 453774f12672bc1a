"""[clocks]: how far the clocks that the hours were read from may be wrong."""

from __future__ import annotations

from dataclasses import dataclass

from fleetstats.study.key import VERDICT, key


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockKeys:
    """[clocks]: a doubt of the clocks, by which quoted bounds are widened."""

    doubt: float = key(
        "Log standard deviation by which the hours of one engine may be wrong: 0.05 is about 5 %, "
        "one clock in three off by more. 0: every clock is right.",
        default=0.0,
        low=0.0,
        high=0.5,
        role=VERDICT,
    )
    together: float = key(
        "Share of that doubt (of its variance) in which all clocks may be wrong the same way; at 0 "
        "each errs for itself, and the errors of many engines nearly cancel.",
        default=1.0,
        low=0.0,
        high=1.0,
        role=VERDICT,
    )

    @property
    def sure(self) -> bool:
        """Return whether no doubt is stated."""
        return self.doubt == 0.0
