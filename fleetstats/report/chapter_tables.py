"""The tables of one chapter as CSV files, for the verbs that answer one question."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fleetstats.chapters.ahead.forecast_section import compose_forecast
from fleetstats.chapters.ahead.outlook_section import compose_outlook
from fleetstats.chapters.bench.section import compose_bench
from fleetstats.chapters.causes.section import compose_causes
from fleetstats.chapters.checks.section import compose_check_interval
from fleetstats.chapters.groups.section import compose_pooling
from fleetstats.chapters.hidden.section import hidden_section
from fleetstats.chapters.recurrence.section import compose_recurrent
from fleetstats.chapters.trends.section import compose_trends
from fleetstats.core.value import Value
from fleetstats.document.document import Section, Table
from fleetstats.report.tables import table_csv


def write_chapter_tables(key: str, done: Mapping[str, Value], folder: Path) -> tuple[Path, ...]:
    """Write each table of a chapter's section into `folder`, which is made if it is not there.

    A file is written whole or not at all; one of the same name is replaced.

    Parameters
    ----------
    key : str
        Key of the chapter.
    done : mapping of str to Value
        Its value and those of the chapters before it.
    folder : Path
        Where the files go.

    Returns
    -------
    tuple of Path
    """
    folder.mkdir(parents=True, exist_ok=True)
    out = []
    for table in (b for b in _section(key, done).blocks if isinstance(b, Table)):
        path = folder / f"{table.key}.csv"
        fresh = path.with_suffix(".csv.part")
        fresh.write_bytes(table_csv(table).encode("utf-8"))
        fresh.replace(path)
        out.append(path)
    return tuple(out)


def _section(key: str, done: Mapping[str, Value]) -> Section:
    value: Any = done[key]
    if key == "forecast":
        back: Any = done.get("backtest")
        return compose_forecast(value, back)
    composers: dict[str, Any] = {
        "check-interval": compose_check_interval,
        "trends": compose_trends,
        "outlook": compose_outlook,
        "bench": compose_bench,
        "pooling": compose_pooling,
        "causes": compose_causes,
        "hidden": hidden_section,
        "recurrence": compose_recurrent,
    }
    section: Section = composers[key](value)
    return section
