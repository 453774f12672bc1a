"""Chapter: the routes to the same answer, and what their agreement or parting means."""

from __future__ import annotations

from fleetstats.chapters.routes.compute import BandRoute, Routes
from fleetstats.document.document import Column, Explain, Section, Statement, Table

Cell = str | float | int | None


def compose_routes(routes: Routes, beside: str = "") -> Section:
    """Return the chapter: what agreement means, and the bands side by side.

    The fits themselves stand under *Analysis*, with the libraries' differences. `beside` says how
    the advice differs from these bands, where it does.
    """
    name = routes.quantity
    bands = Table(
        key="routes-band",
        title=f"The band of the {name}, by several routes",
        columns=(
            Column(key="route", title="Route"),
            Column(key="low_h", title="Lower edge", kind="hours"),
            Column(key="estimate_h", title="Best estimate", kind="hours"),
            Column(key="high_h", title="Upper edge", kind="hours"),
            Column(key="agrees", title="Agrees"),
            Column(key="note", title="Note"),
        ),
        rows=tuple(_band_row(b) for b in routes.bands),
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


def _band_row(b: BandRoute) -> tuple[Cell, ...]:
    i = b.interval
    edges: tuple[Cell, ...] = (None, None, None) if i is None else (i.low, i.estimate, i.high)
    return (b.name, *edges, _word(b.agrees), b.note)
