"""What one row can show of its own hours: order, entry, overhaul, last hours known good."""

from __future__ import annotations

import datetime as dt
from typing import Any

from fleetstats.records.lives.life import EXAMPLE_ENGINE, FAILING_ENDINGS
from fleetstats.records.lives.life_row import RowInHand
from fleetstats.tables.cells import has_control, is_blank
from fleetstats.vocabulary.ids import normalise_id


def check_example(row: RowInHand) -> bool:
    """Return whether the row is a template's example; it is set aside with a note."""
    if normalise_id(row.text("engine")) != EXAMPLE_ENGINE:
        return False
    row.engine = row.text("engine")
    row.add("example-row", "The template's example row; it is not counted.", "", "engine")
    return True


def check_marks(row: RowInHand) -> None:
    """Look at what the table tells of the row: cells too many or few, merged cells, formulas."""
    table, n = row.table, row.row.row
    if n in table.long:
        row.add(
            "row-long",
            f"The row has {table.long[n]} cells, the header {len(table.header)}.",
            "A mark too many, or a decimal comma without quotation marks; correct the row.",
        )
    if n in table.short:
        row.add(
            "row-short",
            f"The row has {table.short[n]} cells, the header {len(table.header)}.",
            "A cell may be missing in its middle; add the missing marks.",
        )
    if n in table.merged:
        row.add(
            "merged-cell",
            "A merged cell covers part of this row, so cells under it are empty.",
            "Unmerge the cells and fill each one.",
        )
    if n in table.formulas:
        row.add("formula-value", "The row holds a formula; its stored value is read.", "")
    # most rows are printable throughout, which one question tells
    texts = [c for c in row.row.cells if isinstance(c, str)]
    if not "".join(texts).isprintable() and any(map(has_control, texts)):
        row.add(
            "control-characters",
            "The row holds characters that cannot be printed; they are removed.",
            "Delete them in the file.",
        )


def check_from_new(row: RowInHand, told: dict[str, Any], file_from: dt.date | None) -> None:
    """Look for an engine older than its records whose entry hours are empty."""
    since = told["observed_from_date"] or file_from
    new = told["in_service_date"]
    if since is None or new is None or not is_blank(row.cell("entry_hours")):
        return
    if new < since and told["exit_hours"]:
        row.add(
            "entry-missing",
            f"The engine entered service on {new}, the records of it begin on {since}, and "
            "the entry hours are empty.",
            f"Enter its hours on {since}: engines that failed before then are not in the records.",
            "entry_hours",
        )


def find_overhaul(row: RowInHand, hours: dict[str, float | None], basis: str) -> tuple[float, int]:
    """Return the hours since new at which the life begins, and its number."""
    at = hours["overhauled_at_hours"]
    since, end = hours["since_overhaul_hours"], hours["exit_hours"]
    if at is None and since is not None and end is not None:
        at = end - since
    if at is None:
        return 0.0, 0
    column = "overhauled_at_hours" if hours["overhauled_at_hours"] else "since_overhaul_hours"
    if end is not None and not 0.0 <= at <= end:
        row.add(
            "hours-impossible",
            f"The overhaul at {at:g} h lies outside the life, which ends at {end:g} h.",
            "Hours at overhaul count since new, as the exit hours then must; leave them empty "
            "where the exit hours count since the overhaul.",
            column,
        )
        return 0.0, 0
    if at == 0.0:
        return 0.0, 0
    entry = hours["entry_hours"] or 0.0
    if basis == "since-overhaul":
        if entry < at:
            row.add(
                "life-before-overhaul",
                f"The hours from {entry:g} to the overhaul at {at:g} are not used.",
                "Give the life before the overhaul a row of its own: planned-overhaul, or "
                "how else it ended.",
                column,
            )
        return at, 1
    if entry < at:
        row.add(
            "overhaul-within-life",
            f"The life since new runs from {entry:g} h on across an overhaul at {at:g} h.",
            "Split it into two rows, or set hours.basis = 'since-overhaul'.",
            column,
        )
    return 0.0, 1


def check_order(row: RowInHand, entry_h: float, exit_h: float, ending: str) -> None:
    """Look at the order of a life's ends."""
    if exit_h < entry_h:
        row.add(
            "exit-before-entry",
            f"The life ends at {exit_h:g} h and begins at {entry_h:g} h.",
            "Are the two columns exchanged? Correct one of them.",
            "exit_hours",
        )
    elif exit_h == entry_h and ending in FAILING_ENDINGS:
        row.add(
            "failure-without-exposure",
            f"The engine failed at {exit_h:g} h, the hours at which its records begin.",
            "Enter the hours from which it was followed, or set the row aside: a failure "
            "told without the hours before it cannot enter a rate.",
            "entry_hours",
        )
    elif exit_h == entry_h:
        row.add(
            "no-exposure",
            f"The life begins and ends at {exit_h:g} h.",
            "Add a later reading when there is one.",
            "exit_hours",
        )


def find_last_good(
    row: RowInHand,
    hours: dict[str, float | None],
    shift: float,
    entry_h: float,
    exit_h: float,
    ending: str,
) -> float | None:
    """Return the last hours known good on the life's own clock, within the life."""
    good = hours["last_good_hours"]
    if good is None:
        if ending == "found-at-check":
            row.add(
                "last-good-missing",
                "A fault was found at a check, and the last hours known good are empty.",
                f"Enter the hours of the last clean check; until then the fault may have "
                f"arisen anywhere from {entry_h:g} to {exit_h:g} h.",
                "last_good_hours",
            )
        return None
    good -= shift
    if good > exit_h:
        row.add(
            "last-good-after-exit",
            f"Known good at {good:g} h, but the life ends at {exit_h:g} h.",
            "Correct one of them.",
            "last_good_hours",
        )
    elif good < entry_h and ending != "running":
        row.add(
            "last-good-before-entry",
            f"Known good at {good:g} h, before the records begin at {entry_h:g} h.",
            "The entry hours are used in its place.",
            "last_good_hours",
        )
        return entry_h
    return max(good, entry_h)


def find_modification(
    row: RowInHand, at: float | None, shift: float, entry_h: float, exit_h: float
) -> float | None:
    """Return the hours of a modification on the life's own clock, where it lies within the life."""
    if at is None:
        return None
    at -= shift
    if not row.text("modified_to"):
        row.add(
            "modification-unclear",
            f"Modified at {at:g} h, and nothing says to which build; the life is not split.",
            "Enter the build standard after the modification.",
            "modified_to",
        )
        return None
    if not entry_h <= at < exit_h:
        row.add(
            "modification-outside",
            f"Modified at {at:g} h, outside the life from {entry_h:g} to {exit_h:g} h.",
            "Correct the hours; one modified before the records begin has its new build from then.",
            "modified_at_hours",
        )
        return entry_h if at < entry_h else None
    return at
