"""What a whole file settles for each of its cells: the decimal mark and the order of dates."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.study.record_settings import RecordKeys
from fleetstats.tables.cells import find_day_first, find_decimal
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.finding import Finding, make_finding

DECIMALS = {"mixed": "decimal-mixed", "ambiguous": "decimal-ambiguous"}
"""Findings on decimal marks that do not agree, and on such as nothing tells."""

ORDERS = {"day-first": True, "month-first": False}


@value
class Conventions(Value):
    """How a file writes: decimal mark (or ``"mixed"``), and whether days stand before months.

    `day_first` is None where nothing tells.
    """

    decimal: str
    day_first: bool | None


def settle_file(
    table: RawTable,
    record_file: RecordKeys,
    index: Mapping[str, int],
    *,
    numbers: Iterable[str],
    dates: Iterable[str],
    findings: Mapping[str, str] = DECIMALS,
) -> tuple[Conventions, tuple[Finding, ...]]:
    """Settle the decimal mark and the order of dates from all the cells that they concern.

    Parameters
    ----------
    table : RawTable
        The whole file.
    record_file : RecordKeys
        What it states stands.
    index : mapping
        Our column names to positions in the table.
    numbers, dates : iterable of str
        Columns of ours that hold numbers, and dates.
    findings : mapping
        Kinds of finding for "mixed" and "ambiguous" decimal marks; what is not among them is not
        told.
    """

    def texts(names: Iterable[str]) -> list[Any]:
        # each text once: how often it stands there tells nothing
        at = [index[n] for n in names if n in index]
        found = {r.cells[i]: None for i in at for r in table.rows if isinstance(r.cells[i], str)}
        return list(found)

    decimal = record_file.decimal
    found: list[Finding] = []
    if decimal == "auto":
        cells = texts(numbers)
        decimal = find_decimal(cells, table.delimiter)
        if decimal in findings:
            unclear = decimal == "ambiguous"
            example = next((c[:20] for c in cells if unclear and ("," in c or "." in c)), "")
            found.append(
                make_finding(
                    findings[decimal],
                    file=table.file,
                    sheet=table.sheet,
                    value=example,
                    example=example,
                )
            )
        decimal = "." if decimal == "ambiguous" else decimal
    first = ORDERS.get(record_file.date_order)
    if first is None:
        first = find_day_first(texts(dates))
    return Conventions(decimal=decimal, day_first=first), tuple(found)
