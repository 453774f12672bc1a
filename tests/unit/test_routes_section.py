"""The chapter on routes: every route has its row, and one that parts is not hidden."""

from __future__ import annotations

import numpy as np

from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.routes.compute import band_routes
from fleetstats.chapters.routes.section import compose_routes
from fleetstats.document.document import Statement, Table
from fleetstats.spells.spells import Spells
from fleetstats.survival.weibull.fit_weibull import fit_weibull


def fleet() -> Spells:
    rng = np.random.default_rng(5)
    life = 2000 * rng.exponential(size=120) ** (1 / 2.5)
    seen = rng.uniform(200, 1600, size=120)
    return Spells.of(np.zeros(120), np.minimum(life, seen), life < seen)


def test_each_route_has_its_row() -> None:
    spells = fleet()
    routes = band_routes(spells, fit_weibull(spells), Quantity.life(0.1), level=0.9, seed=3)
    section = compose_routes(routes)
    (table,) = [b for b in section.blocks if isinstance(b, Table)]
    assert [r[0] for r in table.rows] == [b.name for b in routes.bands]
    for row, route in zip(table.rows, routes.bands, strict=True):
        if route.interval is not None:
            assert row[1:4] == (route.interval.low, route.interval.estimate, route.interval.high)
        assert row[4] == {None: "–", True: "yes", False: "no"}[route.agrees]
    said = " ".join(b.text for b in section.blocks if isinstance(b, Statement))
    assert said
    assert all(s in said for s in routes.sentences)


def test_without_a_failure_it_says_so() -> None:
    spells = Spells.of(np.zeros(30), np.linspace(100, 1500, 30), np.zeros(30, dtype=bool))
    section = compose_routes(band_routes(spells, None, Quantity.life(0.1), level=0.9, seed=3))
    assert any(isinstance(b, Table) for b in section.blocks)
    assert "without a fit" in " ".join(
        b.text.lower() for b in section.blocks if isinstance(b, Statement)
    )
