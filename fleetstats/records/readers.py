"""A study's record files to records: lives in standard hours, findings, and every row's fate."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fleetstats.core.pause import collection_paused
from fleetstats.core.provenance import SourceFile, digest_file
from fleetstats.core.value import Value, value
from fleetstats.records.clocks.clocks import convert_clock, estimate_own_factors
from fleetstats.records.clocks.usage import carry_readings
from fleetstats.records.lives.lives import read_lives
from fleetstats.records.log.clock_events import align_events
from fleetstats.records.log.components import replay_components
from fleetstats.records.log.log import replay_log
from fleetstats.records.log.log_reader import read_log_events
from fleetstats.records.merging.merge import merge_returns
from fleetstats.records.reading import Reading, Records
from fleetstats.records.serials import read_serials
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.open_table import open_table
from fleetstats.tables.table import RawTable, TableError
from fleetstats.vocabulary.finding import make_finding

LIFE_SHAPES = ("lives", "log")
"""Shapes that become lives; files of other shapes are read by the chapters that need them."""


@value
class Opened(Value):
    """A table that is at hand already, and the file that it came from."""

    table: RawTable
    source: SourceFile


@collection_paused()
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
        opened again.

    Returns
    -------
    Records
        Lives on the standard clock and the study's life basis.

    Examples
    --------
    >>> import fleetstats as fs
    >>> records = fs.read_records(fs.read_study("datasets/quiet-fleet"))
    >>> len(records.rows), records.rows[0].ending
    (260, 'running')
    """
    readings: list[Reading] = []
    sources: list[SourceFile] = []
    for record_file in study.of_shape(*LIFE_SHAPES):
        hand = (opened or {}).get((record_file.file, record_file.sheet))
        reading = read_file(study, record_file, None if hand is None else hand.table)
        readings.append(reading)
        sources.append(_source(record_file, reading.n_read) if hand is None else hand.source)
    serials, odd = read_serials(study)
    if study.settings.fleet.serials_file:
        name = study.settings.fleet.serials_file
        path = study.folder.joinpath(*name.replace("\\", "/").split("/"))
        sources.append(_source(RecordFile(file=name, path=path), len(serials)))
    records = Records(
        rows=tuple(r for reading in readings for r in reading.rows),
        events=tuple(e for reading in readings for e in reading.events),
        findings=(*(f for reading in readings for f in reading.findings), *odd),
        set_aside=tuple(s for reading in readings for s in reading.set_aside),
        readings=tuple(readings),
        sources=tuple(sources),
        serials=serials,
        factors=tuple(f for reading in readings for f in reading.factors),
        trouble=tuple(h for reading in readings for h in reading.trouble),
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


def read_file(study: Study, record_file: RecordFile, table: RawTable | None = None) -> Reading:
    """Read one file of shape "lives" or "log"; `table` where it is opened already."""
    try:
        table = open_table(record_file) if table is None else table
    except TableError as e:
        return Reading(
            file=record_file.file,
            shape=record_file.shape,
            source=record_file.source,
            findings=(e.finding,),
        )
    reading = _read_shape(study, record_file, table)
    if not table.rows:
        empty = make_finding("file-empty", file=table.file, sheet=table.sheet)  # fmt: skip
        reading = replace(reading, findings=(*reading.findings, empty))
    aside = tuple(replace(s, sheet=table.sheet) for s in reading.set_aside)
    return replace(reading, sheet=table.sheet, set_aside=aside)


def _read_shape(study: Study, record_file: RecordFile, table: RawTable) -> Reading:
    if record_file.shape == "log":
        reading = _replay(study, record_file, table)
    else:
        reading = read_lives(study, record_file, table)
    converted = convert_clock(reading.rows, study.settings, own=reading.factors)
    return replace(
        reading,
        rows=converted.rows,
        findings=(*reading.findings, *converted.findings),
        set_aside=(*reading.set_aside, *converted.set_aside),
    )


def _replay(study: Study, record_file: RecordFile, table: RawTable) -> Reading:
    reading = read_log_events(table, record_file, study.settings)
    own, odd = estimate_own_factors(reading.events, study.settings)
    events = align_events(reading.events, study.settings, own=own)
    replay = replay_log(events.events, study.settings)
    if study.settings.hours.component:
        parts = replay_components(replay.logs, study.settings, study.settings.hours.component)
        replay = replace(
            replay,
            rows=parts.rows,
            findings=(*replay.findings, *parts.findings),
            set_aside=(*replay.set_aside, *parts.set_aside),
        )
    return replace(
        reading,
        rows=replay.rows,
        events=events.events,
        findings=(*reading.findings, *odd, *events.findings, *replay.findings),
        set_aside=(*reading.set_aside, *events.set_aside, *replay.set_aside),
        engines=tuple({e.engine_id: e.engine for e in reading.events}.values()),
        factors=own,
    )


def _source(record_file: RecordFile, rows: int) -> SourceFile:
    path = record_file.path
    try:
        size, digest = path.stat().st_size, digest_file(path)
    except OSError:
        size, digest = 0, ""
    return SourceFile(name=record_file.file, size_bytes=size, sha256=digest, rows=rows)
