"""The caution that the lives do not follow the curve fitted to them."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, Case, caution_entry

CURVE = (
    caution_entry(
        "curve-does-not-fit",
        FIRST,
        "The failures do not follow the fitted curve.",
        cure="Look for mixed builds or causes and read each alone; trust counts of engines that "
        "reached the hours more than the curve.",
        cases={
            "": Case(
                "fitted curve",
                "Between {low_h} and {high_h} {seen} failed where the fitted curve expects "
                "{expected}. Mixed builds, mixed causes or early faults can make that; a bound "
                "from the curve may then be wrong.",
                ("CURVE_DOUBT_P",),
                proviso="the failures do not follow the fitted curve",
            ),
            "forecast": Case(
                "forecast",
                "The forecast carries on a curve that the failures do not follow: between {low_h} "
                "and {high_h} {seen} failed where it expects {expected}.",
                ("CURVE_DOUBT_P",),
            ),
        },
    ),
)
