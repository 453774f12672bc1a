"""Record shape "lives": each row of a table to one `LifeRow`, or to the reason why not."""

from __future__ import annotations

from fleetstats.records.columns import LIFE_FIELDS, match_columns
from fleetstats.records.finding import SetAside
from fleetstats.records.kinds import make_finding
from fleetstats.records.life import LifeRow, normalise_id
from fleetstats.records.life_checks import check_example, check_marks
from fleetstats.records.life_reader import LifeReader
from fleetstats.records.life_row import RowInHand
from fleetstats.records.reading import Reading
from fleetstats.records.settle import HOUR_COLUMNS, settle_file
from fleetstats.records.study import RecordFile, Study
from fleetstats.records.table import RawTable


def read_lives(study: Study, record_file: RecordFile, table: RawTable) -> Reading:
    """Turn the rows of a table into lives.

    Every row becomes one `LifeRow` or one `SetAside`; what is odd becomes findings. Hours are
    on the study's life basis, in the meter that the row names.

    Parameters
    ----------
    study : Study
        The study.
    record_file : RecordFile
        The file's description.
    table : RawTable
        The file as read.

    Returns
    -------
    Reading
    """
    covariates = study.settings.groups.covariates
    match = match_columns(table, LIFE_FIELDS, record_file.columns, covariates)
    found = [*table.findings, *match.findings]
    lines = tuple(r.row for r in table.rows)
    source = record_file.source
    if not match.usable:
        code = next(f.code for f in match.findings if f.severity == "error")
        aside = tuple(
            SetAside(file=table.file, row=n, reason=code, source=source,
                     message="The file's columns could not be told.")
            for n in lines
        )  # fmt: skip
        return Reading(
            file=table.file, shape="lives", source=source, findings=tuple(found),
            set_aside=aside, lines=lines, n_blank=table.n_blank,
        )  # fmt: skip
    settings = study.settings
    conventions, odd = settle_file(
        table, record_file, match.index, numbers=(*HOUR_COLUMNS, *covariates)
    )
    found += odd
    if "entry_hours" not in match.index and table.rows:
        found.append(
            make_finding(
                "all-from-new",
                "The file has no entry hours; all its engines count as followed from new.",
                "If you first heard of an engine at 600 h, its entry is 600.",
                column="entry_hours",
                file=table.file,
                sheet=table.sheet,
            )
        )
    reader = LifeReader(settings, record_file, match, conventions)
    lives: list[LifeRow] = []
    aside_list: list[SetAside] = []
    engines: dict[str, str] = {}
    for raw in table.rows:
        row = RowInHand(table=table, row=raw, match=match)
        check_marks(row)
        life = None if check_example(row) else reader.read(row)
        found += row.findings
        if row.engine:
            engines.setdefault(normalise_id(row.engine), row.engine)
        if life is None or row.broken:
            first = next(f for f in row.findings if f.code == row.broken)
            aside_list.append(
                SetAside(
                    file=table.file,
                    row=raw.row,
                    reason=row.broken,
                    message=first.message,
                    engine=row.engine,
                    source=row.text("source") or source,
                )
            )
        else:
            lives.append(life)
    return Reading(
        file=table.file,
        shape="lives",
        source=source,
        rows=tuple(lives),
        findings=tuple(found),
        set_aside=tuple(aside_list),
        lines=lines,
        n_blank=table.n_blank,
        engines=tuple(engines.values()),
    )
