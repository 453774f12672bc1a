"""Rows of one engine beside each other, whichever file they stand in.

Engines told more than once are found by their numbers; the rows in doubt are read again and audited
as in a table of ordinary size.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from fleetstats.core.errors import RecordError
from fleetstats.core.memory import give_back
from fleetstats.core.value import Array
from fleetstats.records.audit.audit_pairs import BACKWARDS_H, OVERLAP_H, audit_engines
from fleetstats.records.audit.far_lives import FarLives, days_in_service, find_far_lives
from fleetstats.records.life import LifeRow
from fleetstats.records.lives.plain_rows import NO_DAY
from fleetstats.spells.bulk.bulk_doubts import Doubts
from fleetstats.spells.bulk.bulk_join import SPAN, readers_of
from fleetstats.spells.bulk.bulk_part import PartRead, add_lives
from fleetstats.spells.bulk.bulk_rows import ChunkReader
from fleetstats.spells.bulk.kept_again import by_line
from fleetstats.spells.bulk.key_slices import (
    count_different,
    is_among,
    order_of_engines,
    slices_of,
)
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.finding import Finding

BY_ENGINE = ("key", "line", "last_day", "start_h", "stop_h")
"""Marks of rows by which those of one engine are held beside each other."""

MOST_AGAIN = 500_000
"""Rows of engines told twice that are looked at one by one."""

Again = tuple[int, LifeRow, bool]
"""Number of the file, a life of it that was read again, and whether it is used."""


def audit_rows(
    parts: Sequence[PartRead], marks: dict[str, Array], settings: Settings,
    stage: Callable[[str], None],
) -> tuple[int, int, bool]:  # fmt: skip
    """Audit the rows of engines told more than once; return the engines named, and those used.

    Beside them, whether any engine stands in more rows than one.

    Lives that are set aside for it leave the spells of their files, and enter no more by `marks`,
    of which those that nobody needs any more are given up.

    Raises
    ------
    RecordError
        If too many rows are to be looked at one by one.
    """
    readers = readers_of(parts)
    line = marks["line"]
    unnamed = set().union(*(r.named for r in readers))
    n_engines, found, several = sum(r.many for r in readers), [line[:0]], False
    for at in slices_of(marks["key"]):
        mine = {name: marks[name][at] for name in BY_ENGINE}
        order, again = order_of_engines(mine["key"], mine["start_h"])
        sorted_key = mine["key"][order]
        n_engines += int((~again).sum())
        met = is_among(sorted_key, np.array(sorted(unnamed), dtype=np.uint64))
        unnamed -= set(sorted_key[met].tolist())
        if again.any():
            several = True
            found.append(_doubtful(mine, order, again))
    n_engines += len(unnamed)
    lines = np.unique(np.concatenate(found))
    if len(lines) > MOST_AGAIN:
        raise RecordError(
            f"{len(lines):,} rows tell of engines that other rows tell of over the same hours.",
            "Is the table in the file twice? Take the duplicates out first.",
        )
    del marks["start_h"]
    give_back()
    day = settings.study.analysis_date
    in_service = days_in_service(marks.pop("new_day"), marks.pop("last_day"), day)
    far = find_far_lives(marks["life_h"], in_service, marks.pop("failed"), day)
    del in_service
    doubts = [Doubts(r, line, far, _of_part(line, far, i)) for i, r in enumerate(readers)]
    lines = np.union1d(lines, np.concatenate([d.lines + i * SPAN for i, d in enumerate(doubts)]))
    enters = marks["enters"]
    if len(lines):
        gone = _look_again(parts, lines, doubts, stage)
        enters &= ~np.isin(line, gone)
    n_used = count_different(marks["key"], enters) if several else int(enters.sum())
    give_back()
    return n_engines, n_used + sum(r.many_entered for r in readers), several


def _of_part(line: Array, far: FarLives, part: int) -> Array:
    at = np.flatnonzero(far.any)
    return np.asarray(at[line[at] // SPAN == part])


def _doubtful(marks: dict[str, Array], order: Array, again: Array) -> Array:
    """Return the lines of engines of which two rows share hours, or whose hours run backwards."""
    key, last, start, stop = (marks[n] for n in ("key", "last_day", "start_h", "stop_h"))
    bad: list[Array] = []
    k, a = key[order], again
    # the greatest end so far within an engine, by a running greatest of ends per engine
    e = stop[order]
    group = np.cumsum(~a)
    high = np.maximum.accumulate(e + group * (2.0 * e.max(initial=1.0))) - group * (
        2.0 * e.max(initial=1.0)
    )
    share = np.zeros(len(k), dtype=bool)
    share[1:] = a[1:] & (start[order][1:] < high[:-1] - 0.5 * OVERLAP_H)
    # rows that say the same may tell of less than any overlap
    share[1:] |= a[1:] & (start[order][1:] == start[order][:-1])
    bad.append(k[share])
    dated = order[last[order] != NO_DAY]
    by_day = dated[np.lexsort((last[dated], key[dated]))]
    same = key[by_day][1:] == key[by_day][:-1]
    fewer = stop[by_day][1:] < stop[by_day][:-1] - 0.5 * BACKWARDS_H
    bad.append(key[by_day][1:][same & fewer])
    return np.unique(marks["line"][np.isin(key, np.concatenate(bad))])


def read_lines(parts: Sequence[PartRead], lines: Array) -> Iterator[Again]:
    """Yield the lives of some lines, (k,) of file and line together, in the order of the files."""
    for i, (part, reader) in enumerate(zip(parts, readers_of(parts), strict=True)):
        mine = lines[lines // SPAN == i] - i * SPAN
        if not len(mine):
            continue
        lives = _read_again(part, reader, mine)
        lives.sort(key=lambda x: x[0].origin.row or 0)
        yield from ((i, life, used) for life, used in lives)


def _read_again(
    part: PartRead, reader: ChunkReader, lines: Array
) -> list[tuple[LifeRow, bool]]:  # fmt: skip
    """Return the lives of some lines of one file, each with whether it is used."""
    again = part.again
    held = {} if again is None else again.take(lines)
    for hinted, _ in held.values():
        if hinted is not None:
            reader.trouble.hear(hinted)
    lives = [x for _, mine in held.values() for x in mine]
    left = lines[~np.isin(lines, list(held))]
    if len(left):
        after = None if again is None else again.after(left)
        chunks = part.table.chunks(after)
        found = [x for chunk in chunks for x in reader.read_again(chunk, left)]
        if again is not None:
            again.note(by_line(reader.trouble.hints, found))
        lives += found
    return lives


def _look_again(
    parts: Sequence[PartRead], lines: Array, doubts: Sequence[Doubts],
    stage: Callable[[str], None],
) -> list[int]:  # fmt: skip
    """Audit some rows against each other; return the lines of lives that are set aside for it."""
    stage(f"looking again at {len(lines):,} rows of engines told twice or beyond all others")
    readers = readers_of(parts)
    lives = list(read_lines(parts, lines))
    gone: dict[int, Finding] = {}
    for finding, i in _findings(lives, doubts):
        tallies = readers[lives[i][0]].tallies
        decided = tallies.decide(finding)
        tallies.add([decided])
        if decided.action != "accept" and lives[i][2]:
            gone.setdefault(i, decided)
    for i, finding in gone.items():
        part, life, _ = lives[i]
        reader = readers[part]
        reader.tallies.reasons[finding.code] += 1
        if reader.reasons is not reader.tallies.reasons:  # of several files, each has its own too
            reader.reasons[finding.code] += 1
        reader.n_used -= 1
        reader.trouble.take_back(life, reader.verdict_of(life), finding)
    for part, reader in enumerate(readers):
        mine = [k for k, x in enumerate(lives) if x[0] == part]
        stay = [lives[k][1] for k in mine if lives[k][2] and k not in gone]
        reader.trouble.stand([(x, reader.verdict_of(x)) for x in stay])
        _take_away(parts[part], reader, [lives[k][1:] for k in mine if k in gone])
    return [lives[i][0] * SPAN + (lives[i][1].origin.row or 0) for i in gone]


def _findings(lives: Sequence[Again], doubts: Sequence[Doubts]) -> Iterator[tuple[Finding, int]]:
    """Yield what is odd about lives beside each other, each with the place of its life."""
    places = [[k for k, x in enumerate(lives) if x[0] == part] for part in range(len(doubts))]
    for d, mine in zip(doubts, places, strict=True):
        yield from ((f, mine[i]) for f, i in d.sums_of([lives[k][1] for k in mine]))
    yield from audit_engines([x for _, x, _ in lives])
    for d, mine in zip(doubts, places, strict=True):
        yield from ((f, mine[i]) for f, i in d.far_of([lives[k][1] for k in mine]))


def _take_away(part: PartRead, reader: ChunkReader, lives: Sequence[tuple[LifeRow, bool]]) -> None:
    """Take lives out of the spells and the counts of all that they tell."""
    if not lives:
        return
    before, said = dict(reader.endings), dict(reader.said)
    gone = {x.origin.row for x, _ in lives}
    reader.groups = [g for g in reader.groups if g[0] not in gone]
    kept = list(reader.groups)
    add_lives(part.tally, reader.lives_of(lives), -1)
    reader.groups = kept
    # what counting them again added is taken away twice
    for told, n in reader.endings.items():
        reader.endings[told] = 2 * before.get(told, 0) - n
    for mark, n in reader.said.items():
        reader.said[mark] = 2 * said.get(mark, 0) - n
    for life, used in lives:
        if used:
            reader.count_words(life, -2 * life.count)
            reader.count_service(life, -2)
