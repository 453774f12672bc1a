"""Mends, whole: each cell and row that was decided on, by whom, why, and what it did."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.mends.values import MendsApplied
from fleetstats.document.blocks import say
from fleetstats.document.document import Section
from fleetstats.document.table_of import col, table_of
from fleetstats.records.mends.mend import ASIDE, EFFECTS
from fleetstats.records.mends.words import say_effects, say_mends
from fleetstats.vocabulary.capitals import capital


def compose_mends(results: Results) -> Section | None:
    """Return every mend in one table; None where nothing was decided."""
    told = results.chapters.get("mends")
    if not isinstance(told, MendsApplied):
        return None
    effects = say_effects(told.mended)
    text = (
        f"{capital(say_mends(told.mended))}. The files supplied are unchanged; each decision is a "
        "line of mends.csv, tied to the file by its digest."
        + (f" By these decisions {effects}." if effects else " None of them touches a failure.")
    )
    return Section(
        key="mends",
        title="Mends",
        blocks=(
            say(text, "caution" if effects else "fact"),
            table_of(
                told.mended,
                key="mends",
                title="Each mend",
                columns=(
                    col("number", "No.", lambda m: m.mend.number, "count"),
                    col("file", "File", lambda m: m.mend.file),
                    col("sheet", "Sheet", lambda m: m.mend.sheet),
                    col("row", "Row", lambda m: m.mend.row, "count"),
                    col("column", "Column", lambda m: m.mend.column),
                    col("engine", "Engine", lambda m: m.engine),
                    col("old", "As supplied", lambda m: m.mend.old),
                    col("new", "Read as",
                        lambda m: "row set aside" if m.mend.act == ASIDE else m.mend.new),
                    col("why", "Why", lambda m: m.mend.why),
                    col("by", "By", lambda m: m.mend.by),
                    col("when", "When", lambda m: m.mend.when),
                    col("effect", "To a failure", lambda m: EFFECTS.get(m.effect, "")),
                ),
                see="The column “To a failure” says what all mends of a row together do to what it "
                "tells of a failure.",
                uncut=True,
            ),
        ),
    )  # fmt: skip
