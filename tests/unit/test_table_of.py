"""A table said once: heads, cells and kinds stay together, whatever columns are left out."""

import pytest

from fleetstats.document.cells import check_table, show_cell
from fleetstats.document.document import Column, Table
from fleetstats.document.layers import bars_at, evidence_ends, points_at
from fleetstats.document.table_of import col, table_of

BUILDS = (("A", 3, 0.25), ("B", 5, None))


@pytest.mark.parametrize("shares", [True, False])
def test_a_table_of_items_is_the_table_written_by_hand(shares: bool) -> None:
    made = table_of(
        BUILDS,
        key="builds",
        title="Builds",
        columns=(
            col("build", "Build", lambda x: x[0], help="as recorded"),
            *((col("share", "Share", lambda x: x[2], "percent", edge="high"),) if shares else ()),
            col("lives", "Lives", lambda x: x[1], "count", beside=(4.0,)),
        ),
        see="Two builds.",
        folded=True,
    )
    heads = [
        Column(key="build", title="Build", help="as recorded"),
        Column(key="share", title="Share", kind="percent", edge="high"),
        Column(key="lives", title="Lives", kind="count", beside=(4.0,)),
    ]
    rows = [("A", 0.25, 3), ("B", None, 5)]
    if not shares:
        del heads[1]
        rows = [(r[0], r[2]) for r in rows]
    by_hand = Table(
        key="builds", title="Builds", columns=tuple(heads), rows=tuple(rows), see="Two builds.",
        folded=True,
    )  # fmt: skip
    assert made == by_hand
    check_table(made)
    assert show_cell(made.rows[0][-1], made.columns[-1]) == "3"


def test_a_table_of_nothing_keeps_its_heads() -> None:
    made = table_of((), key="none", title="None", columns=(col("a", "A", str), col("b", "B", str)))
    assert [c.key for c in made.columns] == ["a", "b"]
    assert made.rows == ()


def test_bars_and_points_stand_at_the_place_of_their_name() -> None:
    names = ["first", "second", "third"]
    bars = bars_at("band", "limits", [(1.0, 2.0, 2), (0.5, 4.0, 0)], names)
    assert bars.names == ("third", "first")
    assert bars.x.tolist() == [1.0, 0.5]
    assert bars.x2.tolist() == [2.0, 4.0]
    assert bars.y.tolist() == [2.0, 0.0]
    points = points_at("estimate", "best", [(3.0, 1)])
    assert (points.x.tolist(), points.y.tolist()) == ([3.0], [1.0])


def test_the_end_of_the_evidence_is_named_with_its_hours() -> None:
    mark = evidence_ends(2240.4)
    assert (mark.kind, mark.role, mark.label) == ("vline", "horizon", "evidence ends 2,240 h")
    assert mark.x.tolist() == [2240.4]
