"""Whether the failures follow the fitted curve, as a section of the report."""

from __future__ import annotations

from collections.abc import Iterator

from fleetstats.chapters.curve_fit.values import CurveFit
from fleetstats.document.document import Section, Statement
from fleetstats.document.table_of import col, table_of
from fleetstats.survival.families.curve_check import CurveCheck

Line = tuple[str, float, float, float, float]


def compose_curve_fit(fit: CurveFit) -> Section:
    """Return the section: the sentence, and failures seen and expected by age."""
    lines = tuple(_lines(fit.check))
    table = table_of(
        lines,
        key="curve-fit",
        title="Failures seen, and expected by the fitted curve",
        columns=(
            col("test", "Test", lambda x: x[0]),
            col("from", "From", lambda x: x[1], "hours"),
            col("to", "To", lambda x: x[2], "hours"),
            col("seen", "Seen", lambda x: x[3], "number"),
            col("expected", "Expected", lambda x: x[4], "number"),
        ),
        see="Expected is the fitted hazard that the lives went through at those ages. Windows "
        "near the claim overlap; the test allows for that.",
    )
    return Section(
        key="curve-fit",
        title="Do the failures follow the curve?",
        blocks=(Statement(text=fit.sentence, tone="caution" if fit.cautions else "fact"), table),
    )


def _lines(check: CurveCheck) -> Iterator[Line]:
    g = check.goodness
    if g.p_value is not None:
        for a in zip(g.low_h, g.high_h, g.n_failed, g.n_expected, strict=True):
            yield ("all ages", float(a[0]), float(a[1]), float(a[2]), float(a[3]))
    if check.p_near is not None:
        for a in zip(check.low_h, check.high_h, check.n_failed, check.n_expected, strict=True):
            yield ("near the claim", float(a[0]), float(a[1]), float(a[2]), float(a[3]))
