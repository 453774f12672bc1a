"""Plain rows of a chunk by what they tell of a life's end, each kind as one life to be judged."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.records.lives.plain_rows import PlainRows
from fleetstats.spells.bulk.bulk_counts import FLAGS
from fleetstats.vocabulary.finding import Origin


def kinds_of(
    rows: PlainRows, used: Array, file: str, taken_as: Callable[[str], str]
) -> tuple[list[LifeRow], Array]:
    """Return a life for each kind of used rows, and (u,) the kind of each.

    Parameters
    ----------
    rows : PlainRows
        Of the chunk.
    used : (n,) bool
        Rows in use, u of them.
    file : str
        Name of the table.
    taken_as : callable
        From a cause as written to the cause that it is taken as.
    """
    sources, builds = rows.labels["source"], rows.labels["build"]
    parts = (
        (rows.end, len(rows.ends)),
        (rows.confirmed.astype(np.int64) + 1, 3),
        (rows.found_at_teardown.astype(np.int64) + 1, 3),
        (sources[0], len(sources[1])),
        (builds[0], len(builds[1])),
    )
    told = np.zeros(len(used), dtype=np.int64)
    for codes, size in parts:
        told = told * size + codes
    kinds, at = (x.ravel() for x in np.unique(told[used], return_inverse=True))
    lives = []
    for kind in kinds.tolist():
        places = []
        for _, size in reversed(parts):
            kind, place = divmod(kind, size)
            places.append(place)
        build, source, teardown, confirmed, end = places
        ending, cause = rows.ends[end]
        lives.append(
            LifeRow(
                origin=Origin(file=file), engine="", exit_h=1.0, ending=ending,
                cause=taken_as(cause), confirmed=FLAGS[confirmed - 1],
                found_at_teardown=FLAGS[teardown - 1], source=sources[1][source],
                build=builds[1][build],
            )
        )  # fmt: skip
    return lives, at
