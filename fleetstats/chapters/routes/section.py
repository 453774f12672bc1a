"""Chapter: the routes to the same answer, and what their agreement or parting means."""

from __future__ import annotations

from fleetstats.chapters.routes.values import Routes
from fleetstats.document.document import Explain, Section, Statement
from fleetstats.document.table_of import col, table_of


def compose_routes(routes: Routes, beside: str = "") -> Section:
    """Return the chapter: what agreement means, and the bands side by side.

    The fits themselves stand under *Analysis*, with the libraries' differences. `beside` says how
    the advice differs from these bands, where it does.
    """
    name = routes.quantity
    bands = table_of(
        routes.bands,
        key="routes-band",
        title=f"The band of the {name}, by several routes",
        columns=(
            col("route", "Route", lambda b: b.name),
            col("low_h", "Lower edge", lambda b: b.interval and b.interval.low, "hours"),
            col(
                "estimate_h", "Best estimate", lambda b: b.interval and b.interval.estimate, "hours"
            ),
            col("high_h", "Upper edge", lambda b: b.interval and b.interval.high, "hours"),
            col("agrees", "Agrees", lambda b: _word(b.agrees)),
            col("note", "Note", lambda b: b.note),
        ),
        see="Edges within a quarter of our band's width of ours count as agreeing." + beside,
    )
    return Section(
        key="routes",
        title="The same answer by other routes",
        blocks=(
            *(Statement(text=s) for s in routes.sentences if s),
            bands,
            Explain(
                term="route",
                text="Another program or another method that is put the same question. Routes that "
                "agree do not make the records right; routes that part show where the method "
                "matters.",
            ),
        ),
    )


def _word(agrees: bool | None) -> str:
    return "–" if agrees is None else "yes" if agrees else "no"
