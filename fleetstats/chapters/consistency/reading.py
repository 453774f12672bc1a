"""A number as a reader meets it: its value and the step of its last digit."""

from __future__ import annotations

import re
from dataclasses import dataclass

_IN = re.compile(r"([\d,]+) in ([\d,]+)")
_NUMBER = re.compile(r"[\d,]*\.?\d+")
TOUCH = 1e-7
"""Share of a step by which a number may miss its own rounding: arithmetic, not a digit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenNumber:
    """A number and the step of its last digit; a step of 0 is a number in full.

    A share is read in percent, however it is written.
    """

    value: float
    step: float

    def agrees(self, other: SeenNumber) -> bool:
        """Return whether two readings can be of one number, each rounded up, down or to nearest.

        Two that are shown with the same step must be the same: a bound that is rounded in two ways
        is two bounds to a reader.
        """
        apart = abs(self.value - other.value)
        if self.step == other.step and self.step > 0:
            return apart < 0.5 * self.step
        widest = max(self.step, other.step)
        slack = max(abs(self.value), abs(other.value), 1.0) * 1e-9
        # both may be rounded, one up and one down
        return apart <= widest + min(self.step, other.step) + TOUCH * widest + slack


def read_number(text: str) -> SeenNumber | None:
    """Read "1,240 h", "17.9 %", "18 in 100", "0.094" or "no"; None where there is no number."""
    text = text.strip()
    if re.match(r"no(?:ne)?\b", text):
        return SeenNumber(value=0.0, step=1.0)
    many = _IN.match(text)
    if many:
        n, of = (float(x.replace(",", "")) for x in many.groups())
        return SeenNumber(value=100.0 * n / of, step=100.0 / of)
    found = _NUMBER.match(text)
    if found is None:
        return None
    decimals = len(found[0].partition(".")[2])
    return SeenNumber(value=float(found[0].replace(",", "")), step=10.0**-decimals)


def left_over(reading: SeenNumber) -> SeenNumber:
    """Return what a share in percent leaves of 100."""
    return SeenNumber(value=100.0 - reading.value, step=reading.step)


def in_steps_of(reading: SeenNumber, step: float) -> SeenNumber:
    """Return a reading that was rounded more coarsely than its digits show, such as to 50 h."""
    return SeenNumber(value=reading.value, step=max(step, reading.step))
