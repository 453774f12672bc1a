"""Whether the failures follow the fitted curve, as a chapter of a study and a caution."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.curve_fit.values import CurveFit
from fleetstats.chapters.curve_fit.words import say_check
from fleetstats.core.kept import kept
from fleetstats.core.units import text_decided, text_hours, text_percent
from fleetstats.core.value import Value
from fleetstats.study.settings import Settings
from fleetstats.survival.families.curve_check import CurveCheck, check_curve
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import CURVE_DOUBT_P


def chapter_curve_fit(base: Base, _done: Mapping[str, Value]) -> CurveFit | None:
    """Return whether the failures follow the fitted curve; None where no test could be made."""
    return check_study_curve(base.fit, base.settings)


def check_study_curve(fit: Fit | None, settings: Settings) -> CurveFit | None:
    """Return the check of a study's curve near its claim; None without a curve or a test."""
    check = _check(fit, settings)
    if check is None or check.p_value is None:
        return None
    return CurveFit(check=check, sentence=say_check(check), cautions=caution_curve(fit, settings))


def caution_curve(
    fit: Fit | None, settings: Settings, *, ahead: bool = False
) -> tuple[Caution, ...]:
    """Return the caution that the failures do not follow the curve; none where they do.

    `ahead` words it for a forecast.
    """
    check = _check(fit, settings)
    if check is None or check.p_value is None or not check.doubted:
        return ()
    low_h, high_h, seen, expected = check.worst
    return (
        caution(
            "curve-does-not-fit/forecast" if ahead else "curve-does-not-fit",
            value=f"chance {text_decided(check.p_value, CURVE_DOUBT_P)} of so great a difference",
            limit=text_percent(CURVE_DOUBT_P),
            low_h=text_hours(low_h),
            high_h=text_hours(high_h),
            seen=f"{seen:g}",
            expected=f"{expected:.1f}",
        ),
    )


def _check(fit: Fit | None, settings: Settings) -> CurveCheck | None:
    """Return the check, made once for a fit and claimed hours."""
    if fit is None:
        return None
    hours, seed = settings.study.claimed_interval_h, settings.study.seed
    return kept(fit, ("curve check", hours, seed), lambda: check_curve(fit, hours, seed=seed))
