"""A study's record files to records: lives in standard hours, findings, and every row's fate."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import replace

from fleetstats.core.gate import gate
from fleetstats.core.pause import collection_paused
from fleetstats.core.provenance import SourceFile, digest_file
from fleetstats.core.value import Value, value
from fleetstats.records.clocks.clocks import convert_clock, estimate_own_factors
from fleetstats.records.clocks.usage import carry_readings
from fleetstats.records.histories.history_reader import read_histories
from fleetstats.records.lives.lives import read_lives
from fleetstats.records.log.clock_events import align_events
from fleetstats.records.log.components import replay_components
from fleetstats.records.log.log import replay_log
from fleetstats.records.log.log_reader import read_log_events
from fleetstats.records.log.one_log import join_logs
from fleetstats.records.log_event import LogEvent, place_of
from fleetstats.records.mends.apply import MendedTable, refuse, stray_mends, with_mends
from fleetstats.records.mends.log import MendLog, read_mends
from fleetstats.records.mends.mend import Mended
from fleetstats.records.merging.merge import merge_returns
from fleetstats.records.reading import Reading, Records
from fleetstats.records.rows.heads import check_heads
from fleetstats.records.serials import read_serials
from fleetstats.records.told import ToldFile, count_words, has_maps, words_written
from fleetstats.study.record_settings import LIFE_SHAPES
from fleetstats.study.settings import Settings
from fleetstats.study.study import STUDY, RecordFile, Study
from fleetstats.tables.columns import match_columns
from fleetstats.tables.open_table import open_table
from fleetstats.tables.table import RawTable, TableError
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.ids import normalise_id


@value
class Opened(Value):
    """A table that is at hand already, the file that it came from, and the mends that are in it.

    `as_supplied` says that none is: the study's mends are still to be applied.
    """

    table: RawTable
    source: SourceFile
    mended: tuple[Mended, ...] = ()
    as_supplied: bool = False


@collection_paused()
@gate(study=STUDY)
def read_records(study: Study, opened: Mapping[tuple[str, str], Opened] | None = None) -> Records:
    """Read every file of a study that tells of lives.

    A file that cannot be read is a finding, not an exception, so that all that is wrong with a
    study's records is told at once.

    Parameters
    ----------
    study : Study
        The study.
    opened : mapping, optional
        Tables that are at hand, by file and sheet as the study names them; such a file is not
        opened again, and what was decided about its cells is in the table already, unless it is
        as supplied.

    Returns
    -------
    Records
        Lives on the standard clock and the study's life basis, with the study's mends in them.

    Raises
    ------
    ReadError
        If the study's table of mends is none, or files that are one table have other heads.

    Examples
    --------
    >>> import fleetstats as fs
    >>> records = fs.read_records(fs.read_study("datasets/quiet-fleet"))
    >>> len(records.rows), records.rows[0].ending
    (260, 'running')
    """
    files = study.of_shape(*LIFE_SHAPES)
    check_heads(files)
    log = read_mends(study)
    readings = read_files(study, files, opened, log)
    sources: list[SourceFile] = []
    for file, reading in zip(files, readings, strict=True):
        hand = (opened or {}).get((file.file, file.sheet))
        sources.append(_source(file, reading.n_read) if hand is None else hand.source)
    serials, odd = read_serials(study)
    if study.settings.fleet.serials_file:
        name = study.settings.fleet.serials_file
        path = study.folder.joinpath(*name.replace("\\", "/").split("/"))
        sources.append(_source(RecordFile(file=name, path=path), len(serials)))
    sources += [] if log.source is None else [log.source]
    apart = any(not x.as_supplied for x in (opened or {}).values())
    mended, refused = ((), ()) if apart or not log.mends else _other_mends(study, log, readings)
    records = Records(
        rows=tuple(r for reading in readings for r in reading.rows),
        events=tuple(e for reading in readings for e in reading.events),
        findings=(*(f for reading in readings for f in reading.findings), *odd, *refused),
        set_aside=tuple(s for reading in readings for s in reading.set_aside),
        readings=readings,
        sources=tuple(sources),
        serials=serials,
        factors=tuple(f for reading in readings for f in reading.factors),
        trouble=tuple(h for reading in readings for h in reading.trouble),
        mended=(*(m for reading in readings for m in reading.mended), *mended),
    )
    if study.settings.merge.returns:
        merged = merge_returns(records.rows, study.settings)
        records = replace(
            records,
            rows=merged.rows,
            findings=(*records.findings, *merged.findings),
            set_aside=(*records.set_aside, *merged.set_aside),
            merged=merged,
        )
    if not study.settings.hours.carry_to_analysis_date:
        return records
    carried = carry_readings(records.rows, study.settings)
    return replace(
        records,
        rows=carried.rows,
        findings=(*records.findings, *carried.findings),
        hours_carried=carried.hours_added,
    )


def read_files(
    study: Study,
    files: Sequence[RecordFile],
    opened: Mapping[tuple[str, str], Opened] | None = None,
    log: MendLog | None = None,
) -> tuple[Reading, ...]:
    """Read files of `LIFE_SHAPES`, one reading each; logs of one source are one log.

    `log` holds the mends that are applied; none where it is left out.
    """
    begun = []
    for file in files:
        hand = (opened or {}).get((file.file, file.sheet))
        begun.append(_begin(study, file, hand, log or MendLog()))
    return tuple(_finish(study, begun))


def _begin(study: Study, file: RecordFile, hand: Opened | None, log: MendLog) -> Reading:
    """Read one file: its lives, or its events as they stand."""
    try:
        if hand is not None and not hand.as_supplied:
            mends = MendedTable(table=hand.table, mended=hand.mended)
        else:
            table = open_table(file) if hand is None else hand.table
            mends = with_mends(table, file, study, log)
    except TableError as e:
        return Reading(file=file.file, shape=file.shape, source=file.source, findings=(e.finding,))
    table = mends.table
    if file.shape == "histories":
        read = read_histories(table, file, study.settings, _replay)
    elif file.shape == "log":
        read = read_log_events(table, file, study.settings)
    else:
        read = read_lives(study, file, table)
    empty = () if table.rows else (make_finding("file-empty", file=table.file, sheet=table.sheet),)
    aside = tuple(replace(s, sheet=table.sheet) for s in read.set_aside)
    # what the files of one table tell is told by one sender
    rows = (
        tuple(replace(x, log_file=file.pattern) for x in read.rows) if file.pattern else read.rows
    )
    told = _words_of(table, file) if has_maps(file) and file.shape != "histories" else read.told
    return replace(
        read, rows=rows, sheet=table.sheet, set_aside=aside, told=told, mended=mends.mended,
        written=words_written(table, file),
        findings=(*read.findings, *empty, *mends.findings),
    )  # fmt: skip


def _other_mends(
    study: Study, log: MendLog, readings: Sequence[Reading]
) -> tuple[tuple[Mended, ...], tuple[Finding, ...]]:
    """Return mends of files of other shapes, and what is wrong with those and with strays.

    Such files are read by their chapters; here it is asked whether their mends hold, since a mend
    that does not must stop the study whatever chapter reads it.
    """
    sheets: dict[str, set[str]] = {}
    for r in readings:
        sheets.setdefault(r.file, set()).add(r.sheet)
    mended: list[Mended] = []
    findings: list[Finding] = []
    of = {m.file for m in log.holding}
    for file in (f for f in study.files if f.shape not in LIFE_SHAPES and f.file in of):
        try:
            found = with_mends(open_table(file), file, study, log)
        except TableError:
            findings += [
                refuse(m, "mend-refused/unread") for m in log.holding if m.file == file.file
            ]
            sheets.setdefault(file.file, set()).update(m.sheet for m in log.holding)
            continue
        sheets.setdefault(file.file, set()).add(found.table.sheet)
        mended += found.mended
        findings += found.findings
    return tuple(mended), (*findings, *stray_mends(study, log, sheets))


def _finish(study: Study, begun: Sequence[Reading]) -> list[Reading]:
    """Replay the logs, put hours on the standard clock, and give each file what is its own."""
    settings = study.settings
    replays = [_replay(events, settings) for events in join_logs(begun)]
    alone = sum(r.shape == "log" for r in begun) == 1
    out: list[Reading] = []
    for r in begun:
        if r.shape == "log":
            first = not any(x.shape == "log" for x in out)
            out.append(_own_part(r, replays, first=first, alone=alone))
            continue
        if r.shape == "histories":  # replayed as it was read, each row by itself
            out.append(r)
            continue
        converted = convert_clock(r.rows, settings)
        out.append(
            replace(
                r,
                rows=converted.rows,
                findings=(*r.findings, *converted.findings),
                set_aside=(*r.set_aside, *converted.set_aside),
            )
        )
    return out


def _words_of(table: RawTable, record_file: RecordFile) -> ToldFile:
    """Return in which words a file tells of its ends, as written."""
    fields = LOG_FIELDS if record_file.shape == "log" else LIFE_FIELDS
    match = match_columns(table, fields, record_file.columns)
    return count_words(table, record_file, match.index)


def _replay(events: tuple[LogEvent, ...], settings: Settings) -> Reading:
    """Return what one log tells, in whichever files."""
    own, odd = estimate_own_factors(events, settings)
    aligned = align_events(events, settings, own=own)
    replay = replay_log(aligned.events, settings, histories=bool(settings.hours.component))
    findings = (*odd, *aligned.findings, *replay.findings)
    rows, aside = replay.rows, (*aligned.set_aside, *replay.set_aside)
    if settings.hours.component:
        parts = replay_components(replay.logs, settings, settings.hours.component)
        rows, aside = parts.rows, (*aside, *parts.set_aside)
        findings = (*findings, *parts.findings)
    converted = convert_clock(rows, settings, own=own)
    return Reading(
        file="",
        shape="log",
        rows=converted.rows,
        events=aligned.events,
        findings=(*findings, *converted.findings),
        set_aside=(*aside, *converted.set_aside),
        factors=own,
    )


def _own_part(reading: Reading, replays: Sequence[Reading], *, first: bool, alone: bool) -> Reading:
    """Return a log's file with what its replay told of it; the first has what is of no file.

    `alone` says that no other file is a log, so that all is this one's.
    """
    place = (reading.file, reading.sheet)

    def mine(file: str, sheet: str) -> bool:
        return alone or (file, sheet) == place or (first and not file)

    return replace(
        reading,
        rows=tuple(x for r in replays for x in r.rows if mine(x.origin.file, x.origin.sheet)),
        events=_all_of(replays)
        if alone
        else tuple(e for r in replays for e in r.events if mine(*place_of(e))),
        findings=(
            *reading.findings,
            *(f for r in replays for f in r.findings if mine(f.file, f.sheet)),
        ),
        set_aside=(
            *reading.set_aside,
            *(s for r in replays for s in r.set_aside if mine(s.file, s.sheet)),
        ),
        engines=_last_spelled([e.engine for e in reading.events]),
        factors=tuple(f for r in replays for f in r.factors) if first else (),
    )


def _all_of(replays: Sequence[Reading]) -> tuple[LogEvent, ...]:
    return tuple(itertools.chain.from_iterable(r.events for r in replays))


def _last_spelled(engines: Sequence[str]) -> tuple[str, ...]:
    """Return each engine once, by its id, as it was spelled last."""
    ids = {x: normalise_id(x) for x in set(engines)}
    return tuple({ids[x]: x for x in engines}.values())


def _source(record_file: RecordFile, rows: int) -> SourceFile:
    path = record_file.path
    try:
        size, digest = path.stat().st_size, digest_file(path)
    except OSError:
        size, digest = 0, ""
    return SourceFile(name=record_file.file, size_bytes=size, sha256=digest, rows=rows)
