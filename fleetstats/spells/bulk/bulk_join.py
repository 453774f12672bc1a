"""The files of one table joined: what each counted, added up in the order of their names."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from fleetstats.core.memory import give_back
from fleetstats.core.value import Array
from fleetstats.records.audit.bulk_audit import SHOWN, FleetCounts, Tallies
from fleetstats.records.spelling import spellings
from fleetstats.spells.bulk.bulk_part import MARKS, PartRead
from fleetstats.spells.bulk.bulk_rows import ChunkReader
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.tally import Label, Tally
from fleetstats.spells.trouble.by_chunks import join_ledgers
from fleetstats.spells.trouble.values import Trouble
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study

SPAN = 2**40
"""Lines that a file may have, so that file and line are one number."""


def readers_of(parts: Sequence[PartRead]) -> list[ChunkReader]:
    """Return the readers of the files."""
    return [p.reader for p in parts if p.reader is not None]


def join_marks(parts: Sequence[PartRead]) -> dict[str, Array]:
    """Return the marks of all rows; those of the files are given up."""
    out: dict[str, Array] = {}
    once = all(p.marks["stop_h"] is p.marks["life_h"] for p in parts)
    for name in MARKS:
        columns = [p.marks.pop(name) for p in parts]
        if name == "line":
            for i, x in enumerate(columns):  # one after the other, so that few stand twice
                columns[i] = x + i * SPAN if i else x
        if name == "life_h" and once:
            out[name] = out["stop_h"]
        else:
            out[name] = columns[0] if len(columns) == 1 else np.concatenate(columns)
        columns.clear()
        give_back()
    return out


def join_tallies(readers: Sequence[ChunkReader], settings: Settings) -> Tallies:
    """Return the findings of all files; each reader goes on with them."""
    if len(readers) == 1:
        return readers[0].tallies
    out = Tallies(settings=settings)
    for reader in readers:
        out.counts.update(reader.tallies.counts)
        out.reasons.update(reader.tallies.reasons)
        for code, first in reader.tallies.shown.items():
            shown = out.shown.setdefault(code, [])
            shown += first[: SHOWN - len(shown)]
    for reader in readers:
        reader.tallies = out
    return out


def join_fleets(readers: Sequence[ChunkReader]) -> FleetCounts:
    """Return what the audit of the fleet counts, of all files."""
    out = FleetCounts()
    for f in (r.fleet for r in readers):
        out.meters.update(f.meters)
        out.ends.update(f.ends)
        out.readings.update(f.readings)
        out.heaps.update(f.heaps)
        out.running += f.running
        out.undated += f.undated
    return out


def join_spells(parts: Sequence[PartRead]) -> tuple[Tally, list[Label]]:
    """Return the spells of all files, and the text of each label as written."""
    numbers: dict[Label, int] = {}
    out = Tally()
    for part, reader in zip(parts, readers_of(parts), strict=True):
        mine = [numbers.setdefault(x, len(numbers)) for x in reader.labels.number]
        out.join(part.tally, np.array(mine, dtype=np.int64))
        part.tally = Tally()
    return out, list(numbers)


def spelled(labels: Sequence[Label], readers: Sequence[ChunkReader], study: Study) -> list[Label]:
    """Return labels with one spelling to each cause, source and build, as whole tables have it."""
    told: dict[str, Counter[str]] = {f: Counter() for f in ("cause", "build", "source")}
    for reader in readers:
        for name, words in reader.told.items():
            told[name].update(words)
    causes, builds, sources = spellings(study, told["cause"], told["build"], told["source"])
    return [(causes.get(c, c), sources.get(s, s), builds.get(b, b)) for c, s, b in labels]


def join_trouble(readers: Sequence[ChunkReader]) -> tuple[Trouble, tuple[LeftOut, ...]]:
    """Return the ledger of trouble of all files, and the failures that no spell counts."""
    return join_ledgers([r.trouble for r in readers])
