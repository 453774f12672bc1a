"""A chunk of a large table to lives: plain rows by columns, every other row as any reader would."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.audit.audit_dates import audit_dates
from fleetstats.records.audit.audit_fleet import audit_causes, misspelt_causes
from fleetstats.records.audit.bulk_audit import FleetCounts, Tallies, odd_by_dates
from fleetstats.records.clocks.clocks import convert_clock, stated_factors
from fleetstats.records.life import LifeRow
from fleetstats.records.lives.life_reader import LifeReader
from fleetstats.records.lives.plain_rows import PLAIN_HOURS, PlainRows, day_of, find_plain
from fleetstats.records.rows.doubted import WordsRead
from fleetstats.records.rows.row import RowInHand, check_decided, check_marks
from fleetstats.records.rows.totals import ColumnSums, TotalLine, is_no_engine
from fleetstats.records.rules import Ruling, judge_ending
from fleetstats.records.told import WordCount
from fleetstats.records.trouble.scan import FAILING
from fleetstats.spells.asserted import marks_of, marks_of_plain
from fleetstats.spells.bulk.bulk_counts import count_fleet, service_days, stale_rows
from fleetstats.spells.bulk.bulk_kinds import kinds_of
from fleetstats.spells.bulk.bulk_lives import (
    COUNTS_AS,
    RUNS,
    BulkLives,
    Labels,
    Part,
    key_of,
    lives_from,
    state_of,
)
from fleetstats.spells.bulk.bulk_totals import find_totals
from fleetstats.spells.edges import edges_of
from fleetstats.spells.splits import split_modified
from fleetstats.spells.trouble.by_chunks import ChunkLedger
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.tables.chunks import Chunk
from fleetstats.tables.coded import Coded, Numbers
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.finding import Finding, Origin
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.id_key import hash_ids, sign_matrix
from fleetstats.vocabulary.ids import normalise_id

Ending = tuple[str, str, bool | None, str, str]
"""Ending, cause, confirmed, what that counts as, and why."""


@dataclass(slots=True)
class ChunkReader:
    """Reads the chunks of one table one after the other and adds up what the audit needs.

    `n_read`, `n_used` and `n_blank` count lines; `tallies.reasons` those set aside. `endings`
    counts engines by ending, cause, confirmed, what that counts as, and why. `many` counts engines
    of rows that stand for more than one; `named` holds those of rows that tell of no life; `words`
    counts how rows tell of their end, as written. `doubted` holds, by line, rows that may be totals
    and are read as lives; `in_words` notes hours and dates told in words; `aside` holds those that
    are set aside by decision. `said` counts what lives that count tell (`LivesTold`). `labels`
    numbers the causes, sources and builds of spells; `told` counts the engines of
    used lives by each of these words, `in_service` lives by build and the day on which they were
    put into service; `groups` holds line, hours and number of the rows that stand
    for several engines, and whether these run.
    """

    study: Study
    match: ColumnMatch
    reader: LifeReader
    tallies: Tallies
    trouble: ChunkLedger
    fleet: FleetCounts = field(default_factory=FleetCounts)
    n_read: int = 0
    n_used: int = 0
    n_blank: int = 0
    many: int = 0
    many_entered: int = 0
    said: Counter[str] = field(default_factory=Counter)
    named: set[int] = field(default_factory=set)
    endings: Counter[Ending] = field(default_factory=Counter)
    verdicts: dict[tuple[object, ...], Ruling] = field(default_factory=dict)
    slips: dict[str, str] = field(default_factory=dict)
    words: WordCount | None = None
    aside: dict[int, tuple[str, str]] = field(default_factory=dict)
    sums: ColumnSums = field(default_factory=ColumnSums)
    doubted: dict[int, TotalLine] = field(default_factory=dict)
    in_words: WordsRead = field(default_factory=WordsRead)
    labels: Labels = field(default_factory=Labels)
    told: dict[str, Counter[str]] = field(
        default_factory=lambda: {f: Counter() for f in ("cause", "build", "source")}
    )
    in_service: Counter[tuple[str, int]] = field(default_factory=Counter)
    groups: list[tuple[int, float, int, bool]] = field(default_factory=list)
    reasons: Counter[str] = field(default_factory=Counter)
    factors: dict[str, float] = field(init=False)

    def __post_init__(self) -> None:
        self.factors = {m: f.factor for m, f in stated_factors(self.study.settings).items()}

    @property
    def settings(self) -> Settings:
        """Return the study's settings."""
        return self.study.settings

    @property
    def file(self) -> str:
        """Return the name of the table."""
        return self.reader.file.file

    def read(self, chunk: Chunk) -> BulkLives:
        """Return the lives of a chunk."""
        self.n_read += chunk.n + len(chunk.others)
        self.n_blank += chunk.n_blank
        if self.words is not None:
            self.words.add_columns(chunk.coded, chunk.n)
            self.words.add_rows(o.row.cells for o in chunk.others)
        totals = self._totals(chunk)
        by_columns, left = self._plain(chunk, totals)
        by_rows = self._rows(chunk, left, totals)
        return BulkLives(
            **{f: np.concatenate([getattr(by_columns, f), getattr(by_rows, f)])
               for f in BulkLives.__dataclass_fields__}
        )  # fmt: skip

    def _totals(self, chunk: Chunk) -> dict[int, TotalLine]:
        """Return the rows that may be totals, by their lines; one with a valid id waits."""
        found = find_totals(chunk, self.reader, self.sums)
        self.doubted |= {n: x for n, x in found.items() if x.why in ("id", "failed")}
        return {n: x for n, x in found.items() if x.why != "id"}

    def _plain(self, chunk: Chunk, totals: dict[int, TotalLine]) -> tuple[BulkLives, Array]:
        """Return the lives of plain rows, and which rows are left."""
        usable, data, offsets = chunk.plain_ids(self.match.index["engine"])
        if totals:
            usable &= ~np.isin(chunk.lines, list(totals))
        # the others are looked at cell by different cell, or by their form
        seen = {at for name, at in self.match.index.items() if name not in ("note", "modified_to")}
        for at in range(len(chunk.header)):
            if at not in seen:
                usable &= ~chunk.unprintable(at)

        def column(name: str) -> Coded | Numbers | None:
            at = self.match.index.get(name)
            if at is None:
                return None
            if name in PLAIN_HOURS:
                return chunk.numbers(at, self.reader.decimal) or chunk.coded(at)
            return chunk.long_texts(at) if name == "note" else chunk.coded(at)

        rows = find_plain(self.reader, chunk.n, column, usable & ~self.trouble.suspects(chunk))
        codes, words = rows.labels["meter"]
        by = np.array([self.factors.get(m, np.nan) for m in words])[codes]
        scaled = replace(
            rows, entry_h=rows.entry_h * by, exit_h=rows.exit_h * by,
            last_good_h=rows.last_good_h * by,
        )  # fmt: skip
        odd, stale = odd_by_dates(scaled, self.settings)
        plain = rows.plain & np.isfinite(by) & ~odd
        self._count_plain(rows, plain, chunk.lines)
        used = plain & ~stale_rows(
            stale & plain, rows, chunk.lines, self.file, self.settings, self.tallies
        )
        self.n_used += int(used.sum())
        self.trouble.see(scaled.exit_h[plain])
        lives, enters = self._judge(scaled, used, chunk.lines)
        single = plain & (rows.count == 1)
        last = np.maximum(rows.days["last_reading_date"], rows.days["ended_date"])
        return replace(
            lives, key=hash_ids(sign_matrix(data, offsets))[single], line=chunk.lines[single],
            last_day=last[single], start_h=scaled.entry_h[single], stop_h=scaled.exit_h[single],
            life_h=scaled.exit_h[single], new_day=rows.days["in_service_date"][single],
            failed=np.array([e in FAILING["lives"] for e, _ in rows.ends], bool)[rows.end[single]],
            enters=enters[single],
            state=np.array([state_of(e) for e, _ in rows.ends], np.int8)[rows.end[single]],
        ), ~plain  # fmt: skip

    def _count_plain(self, rows: PlainRows, plain: Array, lines: Array) -> None:
        """Add plain rows to what the audit of the whole needs."""
        n_end = count_fleet(self.fleet, rows, plain)
        first = np.full(len(rows.ends), -1)
        at = np.flatnonzero(plain)[::-1]
        first[rows.end[at]] = at
        for i, (ending, cause) in enumerate(rows.ends):
            if first[i] >= 0:
                self._cause(ending, cause, int(lines[first[i]]), int(n_end[i]))
        self.many += int(rows.count[plain & (rows.count > 1)].sum())

    def _cause(self, ending: str, cause: str, line: int, n: int) -> None:
        """Count a cause that is misspelt or not declared, and keep what it is taken as."""
        life = LifeRow(origin=Origin(file=self.file, row=line), engine="", exit_h=1.0,
                       ending=ending, cause=cause)  # fmt: skip
        if fold(cause) not in self.slips:
            self.slips |= {fold(cause): cause} | misspelt_causes([life], self.study)
        for finding, at in audit_causes([life], self.study):
            if at >= 0:
                self.tallies.add_many(finding, n)

    def _taken_as(self, cause: str) -> str:
        told = self.slips.get(fold(cause), cause)
        return cause if fold(told) == fold(cause) else told

    def verdict_of(self, life: LifeRow) -> Ruling:
        """Return what the ending of a life counts as."""
        names = ("ending", "cause", "confirmed", "found_at_teardown", "source", "build")
        told = tuple(getattr(life, n) for n in names)
        if told not in self.verdicts:
            self.verdicts[told] = judge_ending(life, self.settings)
        return self.verdicts[told]

    def _judge(self, rows: PlainRows, used: Array, lines: Array) -> tuple[BulkLives, Array]:
        """Return the lives of used plain rows by what their endings count as, and which enter."""
        kinds, at = kinds_of(rows, used, self.file, self._taken_as)
        number, between = np.empty(len(kinds), np.int8), np.empty(len(kinds), dtype=bool)
        label, runs = np.empty(len(kinds), np.int64), np.zeros(len(kinds), dtype=bool)
        engines = np.bincount(at, weights=rows.count[used], minlength=len(kinds))
        for i, life in enumerate(kinds):
            v = self.verdict_of(life)
            if life.ending in FAILING["lives"]:
                x = np.flatnonzero(used)[at == i]
                self.trouble.count(life, v, lines[x], rows.exit_h[x], rows.last_good_h[x])
            number[i] = COUNTS_AS.index(v.counts_as)
            between[i] = v.counts_as == "failure" and v.known_to == "interval"
            told_as = (life.ending, life.cause, life.confirmed, v.counts_as, v.reason)
            self.endings[told_as] += int(engines[i])
            label[i] = self.labels.of(life.cause, life.source, life.build)
            runs[i] = state_of(life.ending) == RUNS
            self.count_words(life, int(engines[i]))
        keep = number[at] != COUNTS_AS.index("excluded")
        enters = used.copy()
        enters[used] = keep
        many = np.flatnonzero(enters & (rows.count > 1))
        self.many_entered += int(rows.count[many].sum())
        running = np.zeros(len(used), dtype=bool)
        running[used] = runs[at]
        for k in many.tolist():
            told = int(lines[k]), float(rows.exit_h[k]), int(rows.count[k]), bool(running[k])
            self.groups.append(told)
        self.in_service.update(service_days(rows, enters))
        entry, stop, none = rows.entry_h[used], rows.exit_h[used], np.empty(0, dtype=np.int64)
        self.said.update(marks_of_plain(rows, enters, self.settings))
        return BulkLives(
            entry_h=entry[keep],
            lower_h=np.where(between[at], np.fmax(rows.last_good_h[used], entry), stop)[keep],
            upper_h=stop[keep],
            counts_as=number[at][keep],
            weight=rows.count[used][keep],
            clock_sd=self._doubts(rows)[used][keep],
            in_words=np.zeros(int(keep.sum())),
            label=label[at][keep],
            key=none.astype(np.uint64), line=none, last_day=none, start_h=none, stop_h=none,
            life_h=none, new_day=none, failed=none.astype(bool), enters=none.astype(bool),
            state=none.astype(np.int8),
        ), enters  # fmt: skip

    def count_words(self, life: LifeRow, n: int) -> None:
        """Count the words of `n` engines of a used life."""
        self.told["cause"][life.cause] += n
        self.told["source"][life.source] += n
        self.told["build"].update({life.build: n})
        self.told["build"].update({life.build_after: n})

    def count_service(self, life: LifeRow, n: int) -> None:
        """Count a used life `n` times by build and the day on which it was put into service."""
        for part in split_modified(life) if life.in_service is not None else ():
            if self.verdict_of(part).counts_as != "excluded":
                self.in_service[part.build, day_of(part.in_service)] += n

    def _doubts(self, rows: PlainRows) -> Array:
        """Return (n,) doubts stated for the kinds of meter of plain rows; as in `Spells`."""
        codes, words = rows.labels["meter"]
        return np.array([self.settings.clocks.stated(None, m) for m in words])[codes]

    def _rows(self, chunk: Chunk, left: Array, totals: dict[int, TotalLine]) -> BulkLives:
        """Return the lives of the rows that are not plain."""
        lives, found, broken = self._read_rows(chunk, left, totals)
        for code, findings in broken:
            self.tallies.reasons[code] += 1
            self.tallies.add(map(self.tallies.decide, findings))
        converted = convert_clock(lives, self.settings)
        self.tallies.add(converted.findings)
        self.tallies.reasons.update(s.reason for s in converted.set_aside)
        self.trouble.see([x.exit_h for x in converted.rows])
        for s in converted.set_aside:
            self.trouble.put_aside(s.row, s.reason, s.message)
        self._name([s.engine for s in converted.set_aside])
        for line in {s.row for s in converted.set_aside}:
            self.tallies.add(map(self.tallies.decide, found[line]))
        return self.lives_of([self._audited(x, found) for x in converted.rows])

    def _name(self, engines: Sequence[str]) -> None:
        told = {normalise_id(e) for e in engines} - {""}
        self.named.update(key_of(told).tolist())

    def _read_rows(
        self, chunk: Chunk, left: Array, totals: dict[int, TotalLine]
    ) -> tuple[list[LifeRow], dict[int, list[Finding]], list[tuple[str, list[Finding]]]]:
        """Return lives, findings by line, and code and findings of rows that are no life."""
        raw = chunk.raw_rows(np.flatnonzero(left).tolist())
        stub = RawTable(
            file=self.file, header=chunk.header, rows=(), aside=self.aside,
            short={o.row.row: o.short for o in chunk.others if o.short},
            long={o.row.row: o.long for o in chunk.others if o.long},
        )  # fmt: skip
        found: dict[int, list[Finding]] = {}
        broken: list[tuple[str, list[Finding]]] = []
        lives: list[LifeRow] = []
        for r in (*raw, *(o.row for o in chunk.others)):
            self.trouble.scan(r)
            row = RowInHand(table=stub, row=r, match=self.match)
            life = None if check_decided(row) else self._read_life(row, totals.get(r.row))
            self.in_words.note(row)
            found[r.row] = row.findings
            if life is None or row.broken:
                broken.append((row.broken, row.findings))
                self.trouble.put_aside(r.row, row.broken, row.message)
                self._name([row.engine])
            else:
                lives.append(life)
        return lives, found, broken

    def _read_life(self, row: RowInHand, line: TotalLine | None) -> LifeRow | None:
        check_marks(row)
        return None if is_no_engine(row, line) else self.reader.read(row)

    def read_again(self, chunk: Chunk, lines: Array) -> list[tuple[LifeRow, bool]]:
        """Return some lives of a chunk that was read, each with whether it is used; count none."""
        others = tuple(o for o in chunk.others if o.row.row in set(lines.tolist()))
        part = replace(chunk, others=others)
        lives, found, _ = self._read_rows(part, np.isin(chunk.lines, lines), self.doubted)
        converted = convert_clock(lives, self.settings).rows
        return [
            (replace(x, cause=self._taken_as(x.cause)), not self._why(self._decided(x, found)))
            for x in converted
        ]

    def _decided(self, life: LifeRow, found: dict[int, list[Finding]]) -> list[Finding]:
        own = (*found[life.origin.row or 0], *audit_dates(life, self.settings))
        own += tuple(self.trouble.findings(life))
        return [self.tallies.decide(f) for f in own]

    def _why(self, decided: list[Finding]) -> str:
        return next((f.code for f in decided if f.action != "accept"), "")

    def _audited(self, life: LifeRow, found: dict[int, list[Finding]]) -> tuple[LifeRow, bool]:
        """Count what is odd about a life; return it with whether it is used."""
        decided = self._decided(life, found)
        self.tallies.add(decided)
        self.fleet.ends[life.ending, life.cause, life.found_at_teardown] += 1
        self._cause(life.ending, life.cause, life.origin.row or 0, 1)
        self.fleet.meters[life.meter or self.settings.hours.meter] += 1
        factor = self.factors[life.meter or self.settings.hours.meter]
        hours = np.array([h + life.life_start_h for h in (life.entry_h, life.exit_h) if h > 0.0])
        self.fleet.add_hours(life.source, hours / factor)
        if life.ending == "running":
            self.fleet.running += 1
            self.fleet.undated += life.last_date is None
        self.many += life.count if life.count > 1 else 0
        why = self._why(decided)
        if why:
            self.tallies.reasons[why] += 1
            said = next(f.message for f in decided if f.code == why)
            self.trouble.put_aside(life.origin.row or 0, why, said)
        else:
            self.n_used += 1
        return replace(life, cause=self._taken_as(life.cause)), not why

    def lives_of(self, lives: Sequence[tuple[LifeRow, bool]]) -> BulkLives:
        """Return lives read one by one; those not used have a key only."""
        out: list[Part] = []
        enters = np.zeros(len(lives), dtype=bool)
        for k, (life, used) in enumerate(lives):
            parts = [(p, self.verdict_of(p)) for p in split_modified(life)] if used else []
            self.trouble.put_life(life.origin.row or 0, parts)
            if used:
                self.count_words(life, life.count)
                self.count_service(life, 1)
            for part, v in parts:
                self.endings[part.ending, part.cause, part.confirmed, v.counts_as, v.reason] += (
                    part.count
                )
                if v.counts_as == "excluded":
                    continue
                enters[k] = True
                self.said.update(marks_of(part, self.settings))
                low, high, words = edges_of(part, v)
                number = COUNTS_AS.index(v.counts_as)
                sd = self.settings.clocks.stated(part.clock_doubt, part.meter)
                label = self.labels.of(part.cause, part.source, part.build)
                out.append((part.entry_h, low, high, number, part.count, sd, words, label))
            if enters[k] and life.count > 1:
                self.many_entered += life.count
                runs = state_of(life.ending) == RUNS
                self.groups.append((life.origin.row or 0, life.exit_h, life.count, runs))
        return lives_from(out, [x for x, _ in lives], enters)
