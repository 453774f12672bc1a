"""All files of checks, readings and bench runs of a study."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar, TypeVar

from fleetstats.core.provenance import SourceFile, digest_file
from fleetstats.core.value import Value, value
from fleetstats.records.clocks.clocks import stated_factors
from fleetstats.records.condition.bench_records import BenchRow, read_bench
from fleetstats.records.condition.checks import CheckRow, read_checks
from fleetstats.records.condition.condition_audit import audit_condition
from fleetstats.records.condition.condition_table import ConditionReading
from fleetstats.records.condition.leakdown import LeakRow, read_leakdown
from fleetstats.records.life import LifeRow
from fleetstats.records.mends.apply import with_mends
from fleetstats.records.mends.log import MendLog, read_mends
from fleetstats.study.condition_checks import coldest_stress
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.open_table import open_table
from fleetstats.tables.table import TableError
from fleetstats.vocabulary.finding import Finding, make_finding

if TYPE_CHECKING:
    import pandas as pd

Reported = TypeVar("Reported", CheckRow, LeakRow)

CONDITION_SHAPES = ("checks", "leakdown", "bench")
"""Shapes that are read here; lives and logs have readers of their own."""


@value
class Condition(Value):
    """What the checks, the leak-down sheets and the bench wrote down.

    Parameters
    ----------
    checks : tuple of CheckRow
        Checks, hours on the study's clock.
    leakdown : tuple of LeakRow
        Leak-down readings, hours likewise.
    bench : tuple of BenchRow
        Runs on the bench.
    readings : tuple of ConditionReading
        Per file, what was read and what was set aside.
    sources : tuple of SourceFile
        The files with their digests.
    odd : tuple of Finding
        What does not match the lives.
    """

    checks: tuple[CheckRow, ...]
    leakdown: tuple[LeakRow, ...]
    bench: tuple[BenchRow, ...]
    readings: tuple[ConditionReading, ...] = ()
    sources: tuple[SourceFile, ...] = ()
    odd: tuple[Finding, ...] = ()

    _not_in_dict: ClassVar[tuple[str, ...]] = ("checks", "leakdown", "bench")

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Return everything odd in these files."""
        return (*(f for r in self.readings for f in r.findings), *self.odd)

    @property
    def n_set_aside(self) -> int:
        """Return the number of rows set aside."""
        return sum(len(r.set_aside) for r in self.readings)

    def __str__(self) -> str:
        lines = [repr(r) for r in self.readings]
        return "\n".join([*lines, *(str(f) for f in self.findings if f.severity != "note")])

    def to_frame(self) -> pd.DataFrame:
        """Return a table with one row to a file: rows read, used and set aside."""
        import pandas as pd

        return pd.DataFrame(
            {
                "file": [r.file for r in self.readings],
                "shape": [r.shape for r in self.readings],
                "n_read": [r.n_read for r in self.readings],
                "n_used": [len(r.rows) for r in self.readings],
                "n_set_aside": [len(r.set_aside) for r in self.readings],
            }
        )

    def __repr__(self) -> str:
        return (
            f"Condition: {len(self.checks)} checks, {len(self.leakdown)} leak-down readings, "
            f"{len(self.bench)} bench runs"
        )


def read_condition(study: Study, lives: Iterable[LifeRow] | None = None) -> Condition:
    """Read every file of shape "checks", "leakdown" or "bench" of a study.

    A file that cannot be read is a finding, not an exception; a row that cannot be read is set
    aside with its reason. Hours are converted by the file's meter kind.

    Parameters
    ----------
    study : Study
        The study.
    lives : iterable of LifeRow, optional
        Lives that checks and readings are matched with; what does not match is said.

    Returns
    -------
    Condition
        Empty tuples where the study has no such files.
    """
    readings: list[ConditionReading] = []
    sources: list[SourceFile] = []
    log = read_mends(study)
    for file in study.of_shape(*CONDITION_SHAPES):
        reading = _read(study, file, log)
        readings.append(reading)
        sources.append(_source(file, reading.n_read))
    rows = {s: tuple(x for r in readings if r.shape == s for x in r.rows) for s in CONDITION_SHAPES}
    known = tuple(lives or ())
    checks, leakdown = rows["checks"], rows["leakdown"]
    odd = () if lives is None else audit_condition(checks, leakdown, known)
    # Each engine under one name, that of its life, so that what is told of it stays together.
    names: dict[str, str] = {}
    for x in (*known, *checks, *leakdown):
        names.setdefault(x.engine_id, x.engine)
    return Condition(
        checks=_named(checks, names),
        leakdown=_named(leakdown, names),
        bench=rows["bench"],
        readings=tuple(readings),
        sources=tuple(sources),
        odd=odd,
    )


def _named(rows: tuple[Reported, ...], names: dict[str, str]) -> tuple[Reported, ...]:
    return tuple(
        x if names[x.engine_id] == x.engine else replace(x, engine=names[x.engine_id]) for x in rows
    )


def _read(study: Study, file: RecordFile, log: MendLog) -> ConditionReading:
    try:
        # whether the mends hold was asked when the lives were read
        table = with_mends(open_table(file), file, study, log).table
    except TableError as e:
        return _unread(file, e.finding)
    settings = study.settings
    if file.shape == "bench":
        hours = settings.bench.life_unit == "h"
        return read_bench(
            table,
            file,
            unit=settings.hours.unit if hours else "",
            above=coldest_stress(settings.bench),
        )
    meter = file.meter or settings.hours.meter
    factor = stated_factors(settings).get(meter)
    if factor is None:
        return _unread(
            file,
            make_finding(
                "meter-without-factor",
                file=file.file,
                action="set-aside",
                meter=meter,
                standard=settings.hours.meter,
            ),
        )
    k, unit = factor.factor, settings.hours.unit
    if file.shape == "leakdown":
        return read_leakdown(table, file, settings.leakdown, factor=k, unit=unit)
    q = settings.question
    causes = (*q.causes, *q.censoring_causes, *settings.check.undetectable_causes)
    return read_checks(table, file, causes=causes, factor=k, unit=unit)


def _unread(file: RecordFile, finding: Finding) -> ConditionReading:
    return ConditionReading(
        file=file.file, shape=file.shape, rows=(), findings=(finding,), set_aside=(), n_read=0
    )


def _source(file: RecordFile, rows: int) -> SourceFile:
    try:
        size, digest = file.path.stat().st_size, digest_file(file.path)
    except OSError:
        size, digest = 0, ""
    return SourceFile(name=file.file, size_bytes=size, sha256=digest, rows=rows)
