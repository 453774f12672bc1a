"""Lives of a chunk of a large table, as columns."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.records.lives.plain_rows import day_of
from fleetstats.records.trouble.scan import FAILING
from fleetstats.spells.running import ENDED
from fleetstats.spells.tally import Label
from fleetstats.vocabulary.id_key import hash_ids, sign_matrix

COUNTS_AS = ("censored", "failure", "competing", "finding", "excluded")
"""What an ending counts as, by number."""


OTHER, RUNS, GONE = range(3)
"""What the end of a life says of its engine: nothing for sure, that it runs, that it does not."""


def state_of(ending: str) -> int:
    """Return what an ending says of its engine today."""
    return RUNS if ending == "running" else GONE if ending in ENDED else OTHER


@dataclass(slots=True)
class Labels:
    """Cause, source and build of spells by number, as they come."""

    number: dict[Label, int] = field(default_factory=dict)

    def of(self, cause: str, source: str, build: str) -> int:
        """Return the number of a label."""
        return self.number.setdefault((cause, source, build), len(self.number))


@dataclass(frozen=True, slots=True, kw_only=True)
class BulkLives:
    """Lives of a chunk.

    Parameters
    ----------
    entry_h, lower_h, upper_h : (n,) float
        Hours on the standard clock; the end lies in ``(lower_h, upper_h]``, or is both.
    counts_as : (n,) int
        Number in `COUNTS_AS`, never "excluded".
    weight : (n,) int
        Engines that each stands for.
    clock_sd, in_words : (n,) float
        As in `Spells`.
    label : (n,) int
        Number of cause, source and build in `Labels`.
    key, line, last_day : (m,) int
        For each row that stands for one engine: its number (`id_key`), its line, and the day of
        its last reading or its end, `NO_DAY` where not told.
    start_h, stop_h : (m,) float
        Hours since new between which it was seen.
    life_h : (m,) float
        Hours at its end on the clock of its own life.
    new_day : (m,) int
        Day on which it was put into service, `NO_DAY` where not told.
    failed, enters : (m,) bool
        Whether its life ended in what may be a failure, and whether it, or a part of it, is among
        the lives.
    state : (m,) int
        `OTHER`, `RUNS` or `GONE`.
    """

    entry_h: Array
    lower_h: Array
    upper_h: Array
    counts_as: Array
    weight: Array
    clock_sd: Array
    in_words: Array
    label: Array
    key: Array
    line: Array
    last_day: Array
    start_h: Array
    stop_h: Array
    life_h: Array
    new_day: Array
    failed: Array
    enters: Array
    state: Array


Part = tuple[float, float, float, int, int, float, bool, int]
"""Entry, lower and upper end, what it counts as, weight, doubt of the clock, in words, label."""


def lives_from(parts: Sequence[Part], lives: Sequence[LifeRow], enters: Array) -> BulkLives:
    """Return lives read one by one as columns: spells of `parts`, marks of single `lives`."""
    columns = np.array(parts, dtype=np.float64).reshape(len(parts), 8).T
    single = [x for x in lives if x.count == 1]
    return BulkLives(
        entry_h=columns[0],
        lower_h=columns[1],
        upper_h=columns[2],
        counts_as=columns[3].astype(np.int8),
        weight=columns[4].astype(np.int64),
        clock_sd=columns[5],
        in_words=columns[6],
        label=columns[7].astype(np.int64),
        key=key_of([x.engine_id for x in single]),
        line=np.array([x.origin.row or 0 for x in single], dtype=np.int64),
        last_day=np.array([day_of(x.last_date) for x in single], dtype=np.int64),
        start_h=np.array([x.life_start_h + x.entry_h for x in single], dtype=np.float64),
        stop_h=np.array([x.life_start_h + x.exit_h for x in single], dtype=np.float64),
        life_h=np.array([x.exit_h for x in single], dtype=np.float64),
        new_day=np.array([day_of(x.in_service) for x in single], dtype=np.int64),
        failed=np.array([x.ending in FAILING["lives"] for x in single], dtype=bool),
        enters=enters[[k for k, x in enumerate(lives) if x.count == 1]],
        state=np.array([state_of(x.ending) for x in single], dtype=np.int8),
    )


SHORT = 64
"""Signs of an id up to which ids are numbered together, row beside row."""


def key_of(ids: Iterable[str]) -> Array:
    """Return the numbers of ids in their form for comparison."""
    texts = list(ids)
    out = np.empty(len(texts), dtype=np.uint64)
    plain = [text.isascii() for text in texts]
    short = [i for i, ok in enumerate(plain) if ok and len(texts[i]) <= SHORT]
    long = [i for i, ok in enumerate(plain) if ok and len(texts[i]) > SHORT]
    # a long id would make room for as many signs in the row of every other
    for at in ([short] if short else []) + [[i] for i in long]:
        ends = np.cumsum([0, *(len(texts[i]) for i in at)])
        signs = np.frombuffer("".join(texts[i] for i in at).encode(), dtype=np.uint8)
        out[at] = hash_ids(sign_matrix(signs, ends))
    for i in (i for i, ok in enumerate(plain) if not ok):
        digest = hashlib.sha256(texts[i].encode()).digest()
        out[i] = int.from_bytes(digest[:8], "little")
    return out
