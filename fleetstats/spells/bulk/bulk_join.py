"""The files of tables joined: what each counted, added up in the order of the study."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from fleetstats.core.memory import give_back
from fleetstats.core.value import Array
from fleetstats.records.audit.bulk_audit import SHOWN, FleetCounts, Tallies
from fleetstats.records.audit.finding import FileAccount
from fleetstats.records.spelling import spellings
from fleetstats.spells.bulk.bulk_part import MARKS, PartRead
from fleetstats.spells.bulk.bulk_rows import ChunkReader
from fleetstats.spells.bulk.bulk_study import ReturnsToMerge
from fleetstats.spells.bulk.key_slices import slices_of
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.tally import Label, Tally
from fleetstats.spells.trouble.by_chunks import join_ledgers
from fleetstats.spells.trouble.values import Trouble
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.vocabulary.finding import Finding

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


def refuse_to_merge(parts: Sequence[PartRead], marks: dict[str, Array], study: Study) -> None:
    """Look for engines that stand in several tables, where their returns are to be merged.

    Raises
    ------
    ReturnsToMerge
        If there is one.
    """
    names = [r.reader.file.named for r in readers_of(parts)]
    if not study.settings.merge.returns or len(set(names)) < 2:
        return
    table_of = np.unique(names, return_inverse=True)[1].ravel()
    for at in slices_of(marks["key"]):
        key, table = marks["key"][at], table_of[marks["line"][at] // SPAN]
        order = np.argsort(key)
        key, table = key[order], table[order]
        if ((key[1:] == key[:-1]) & (table[1:] != table[:-1])).any():
            raise ReturnsToMerge


def join_tallies(readers: Sequence[ChunkReader], settings: Settings) -> Tallies:
    """Return the findings of all files; each reader goes on with them."""
    for reader in readers:
        reader.reasons = reader.tallies.reasons
    if len(readers) == 1:
        return readers[0].tallies
    out = Tallies(settings=settings)
    for reader in readers:
        reader.reasons = Counter(reader.reasons)
        out.counts.update(reader.tallies.counts)
        out.reasons.update(reader.tallies.reasons)
        for code, first in reader.tallies.shown.items():
            shown = out.shown.setdefault(code, [])
            shown += first[: SHOWN - len(shown)]
    for reader in readers:
        reader.tallies = out
    return out


def tables_of(readers: Sequence[ChunkReader]) -> dict[str, list[ChunkReader]]:
    """Return the readers of the files of each table, by its name in the study."""
    out: dict[str, list[ChunkReader]] = {}
    for r in readers:
        out.setdefault(r.reader.file.named, []).append(r)
    return out


def heads_of(readers: Sequence[ChunkReader]) -> dict[str, Mapping[str, str]]:
    """Return our names = their own of each file's columns; a finding is of a file or its table."""
    return {n: r.match.shown for r in readers for n in (r.reader.file.named, r.file)}


def accounts_of(readers: Sequence[ChunkReader]) -> tuple[FileAccount, ...]:
    """Return the account of the rows of each table."""
    out = []
    for name, mine in tables_of(readers).items():
        reasons: Counter[str] = sum((r.reasons for r in mine), Counter())
        out.append(
            FileAccount(
                file=name,
                source=mine[0].reader.file.source,
                shape=mine[0].reader.file.shape,
                n_read=sum(r.n_read for r in mine),
                n_used=sum(r.n_used for r in mine),
                n_set_aside=sum(reasons.values()),
                n_blank=sum(r.n_blank for r in mine),
                reasons=dict(reasons.most_common()),
            )
        )
    return tuple(out)


def join_fleets(readers: Sequence[ChunkReader]) -> FleetCounts:
    """Return what the audit of the fleet counts, of some files."""
    out = FleetCounts()
    for f in (r.fleet for r in readers):
        out.meters.update(f.meters)
        out.ends.update(f.ends)
        out.readings.update(f.readings)
        out.heaps.update(f.heaps)
        out.running += f.running
        out.undated += f.undated
    return out


def tell_fleet(readers: Sequence[ChunkReader], settings: Settings) -> list[Finding]:
    """Return what the audit of the fleet says of all tables together, and of each."""
    out = join_fleets(readers).of_all(settings)
    for name, mine in tables_of(readers).items():
        out += join_fleets(mine).of_table(name, settings)
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
