"""What the check of the fitted curve says, in sentences."""

from __future__ import annotations

from fleetstats.core.units import text_decided, text_hours
from fleetstats.survival.families.curve_check import CurveCheck
from fleetstats.vocabulary.limits import CURVE_DOUBT_P


def say_check(check: CurveCheck) -> str:
    """Say what both tests together mean; blank where neither could be made."""
    if check.p_value is None:
        return ""
    about = (
        "over all ages"
        if check.p_near is None
        else f"near {text_hours(check.hours or 0.0)}"
        if check.goodness.p_value is None
        else f"over all ages and near {text_hours(check.hours or 0.0)}"
    )
    chance = (
        text_decided(check.p_value, CURVE_DOUBT_P) if check.p_value >= 1e-3 else "less than 0.1 %"
    )
    if not check.doubted:
        return (
            f"The failures {about} agree with the fitted curve (so great a difference or a greater "
            f"one comes by chance in {chance} of fleets). That does not show that the curve is "
            "right, nor that it holds beyond the ages seen."
        )
    low_h, high_h, seen, expected = check.worst
    return (
        f"The failures do not follow the fitted curve (tested {about}; by chance so in {chance} of "
        f"fleets): between {text_hours(low_h)} and {text_hours(high_h)} {seen:g} failed where it "
        f"expects {expected:.1f}. Look for mixed builds, mixed causes or early faults."
    )
