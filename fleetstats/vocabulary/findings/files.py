"""What can be wrong with a file as a whole, its columns and its marks."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import error, note, warning

FILES = (
    error(
        "file-unreadable",
        "A file that cannot be read as what its name says.",
        says={
            "columns": "The file has {n_columns} columns.",
            "not-utf8": "The text is not UTF-8 on line {at}.",
            "open-quote": "From line {line} on no line ends outside quotation marks.",
            "not-stated-encoding": "The file is not text in the encoding '{codec}' ({problem}).",
            "no-header": "There is no header {where}.",
            "no-encoding": "The text is neither UTF-8 nor Windows-1252 ({problem}).",
            "bad-quotes": "{why}, in the row that begins on line {line}.",
            "not-encoding": "The file is not text in the encoding '{encoding}' ({problem}).",
            "not-text": "The file is not text.",
            "breaks-off": "The file starts as {codec} and breaks off ({problem}).",
            "kind": "Files that end in '{kind}' are not read.",
            "empty": "The file is empty.",
            "not-opened": "The file cannot be opened ({problem}).",
            "not-regular": "What bears the name is {what}, no regular file.",
            "locked": "The workbook is protected by a password.",
            "old-workbook": "The workbook is of the older .xls kind, whatever its name says.",
            "entities": "The workbook's part '{part}' declares entities of its own.",
            "odd-part": "The workbook's part '{part}' is no text of cells ({problem}).",
            "not-read": "The file cannot be read ({problem}).",
            "parquet": "The file is not a readable Parquet file ({problem}).",
            "no-columns": "The file has no columns.",
            "archive": "The file is an archive, not a workbook.",
            "no-sheet": "There is no sheet '{wanted}'.",
            "no-cells": "The sheet '{title}' holds no cells.",
            "not-workbook": "The file is not a workbook of the .xlsx kind.",
            "damaged": "The workbook is damaged ({problem}).",
            "sheet-no-header": "There is no header in the sheet '{title}'.",
        },
        cure={
            "columns": "It needs at least one and at most {most_columns}.",
            "not-utf8": (
                "State the file's encoding in the study file, such as encoding = 'cp1252'."
            ),
            "open-quote": (
                "A quotation mark is left open, or stands alone within a cell; double it."
            ),
            "not-stated-encoding": "Save it as CSV in UTF-8.",
            "no-header": "The first line must name the columns.",
            "no-encoding": "State encoding in the study file, or save it as CSV in UTF-8.",
            "bad-quotes": 'Inside quotation marks a mark is doubled, as "". Correct the line.',
            "not-encoding": "Leave encoding out, and it is found.",
            "not-text": "Save it as CSV in UTF-8.",
            "breaks-off": "Save it again as CSV in UTF-8.",
            "kind": "Save it as one of {known}.",
            "empty": "Its first line must name the columns.",
            "not-opened": "",
            "not-regular": "Copy its contents into a file and name that.",
            "locked": "Save it without a password, or as CSV.",
            "old-workbook": "Save it as .xlsx or CSV.",
            "entities": "No program that writes workbooks does; save it anew, or as CSV.",
            "odd-part": "Save it again, or as CSV.",
            "not-read": "",
            "parquet": "Write it again, or save it as CSV.",
            "no-columns": "",
            "archive": "Save it as .xlsx or CSV.",
            "no-sheet": "{hint}",
            "no-cells": "Name a sheet of rows.",
            "not-workbook": "Save it as .xlsx or CSV.",
            "damaged": "Save it again, or as CSV.",
            "sheet-no-header": "The first row must name the columns.",
        },
        of_file=True,
    ),
    error(
        "file-too-large",
        "A file beyond the limits of the reader.",
        says={
            "limit": "{what} {found}.",
            "header": "The header has {n_cut} columns.",
            "rows": "The file has more than {n_rows:,} rows of {n_cut} columns.",
            "bytes": "The file has {mb:,.0f} MB.",
            "parquet": "The file has {n_rows:,} rows of {n_columns} columns.",
            "sheet": "The sheet has {n_rows:,} rows of {width} columns.",
            "used-area": "The sheet's used area is {n_rows:,} rows by {n_columns:,} columns.",
        },
        cure={
            "limit": "{right}",
            "header": "The limit is {most_columns}. Is the delimiter right?",
            "rows": "The limits are {most_rows:,} rows and {most_cells:,} cells; split the file.",
            "bytes": (
                "The limit is {most_mb} MB for a file that is read whole; 'fleetstats study' reads "
                "CSV and Parquet files of lives by chunks."
            ),
            "parquet": (
                "The limits are {most_rows:,} rows, {most_columns} columns and {most_cells:,} "
                "cells."
            ),
            "sheet": "Split it, or save it as CSV.",
            "used-area": (
                "The limits are {most_columns} columns and {most_cells:,} cells. Delete empty "
                "rows and columns at its end, or save it as CSV."
            ),
        },
        of_file=True,
    ),
    error(
        "column-missing",
        "A column that the shape needs is not in the file.",
        says={
            "": "There is no column for '{name}' ({doc}).",
            "mapped": "The study file maps '{ours}' to a column '{theirs}' that is not there.",
            "mapped-near": "The study file maps '{ours}' to a column '{theirs}' that is not there.",
        },
        cure={
            "": (
                'Map it in the study file: columns.{name} = "{header}". The file has: '
                "{headers}.{lower}"
            ),
            "mapped": "The file has: {headers}.{lower}",
            "mapped-near": "Did you mean '{near}'?{lower}",
        },
        of_file=True,
    ),
    error(
        "column-twice",
        "Two columns of a file stand for the same thing.",
        says="The columns '{first}' and '{second}' both stand for '{ours}'.",
        cure='Say in the study file which is meant: columns.{ours} = "…".',
        of_file=True,
    ),
    error(
        "decimal-ambiguous",
        "It cannot be told whether commas or points mark decimals.",
        says="'{example}' may be read in two ways, and no other number tells.",
        cure="State decimal = '.' or decimal = ',' for this file.",
        of_file=True,
    ),
    warning(
        "file-empty",
        "A file without a row.",
        says="The file has a header and no row.",
        cure="Was the right file named?",
    ),
    warning(
        "decimal-mixed",
        "Decimal commas and points in one file.",
        says="The file writes some numbers with a decimal comma, some with a point.",
        cure="Each is read by itself where only one reading is possible. Use one mark.",
    ),
    note(
        "encoding-guessed",
        "The encoding was guessed.",
        says="The text is not UTF-8; it was read as Windows-1252.",
        cure="State encoding in the study file if names look wrong.",
    ),
    note(
        "sheets-hidden",
        "Hidden sheets before the one that is read.",
        says="The workbook begins with hidden sheets, which are not read: {hidden}.",
        cure="Name the sheet in the study file if a hidden one is meant.",
    ),
    note(
        "column-unused",
        "Columns that are not used.",
        says="Not used: {unused}.",
        cure="Map a column in the study file if it holds what the study needs.",
    ),
    note(
        "serials-odd",
        "Empty or repeated lines in the list of serials built.",
        says="Of {n} lines, {n_empty} hold no serial and {n_twice} repeat one.",
        cure="Each serial counts once.",
    ),
    note(
        "formula-value",
        "A formula; the value that the sheet stored for it is used.",
        says="The row holds a formula; its stored value is read.",
    ),
    note(
        "example-row",
        "A template's example row.",
        says="The template's example row; it is not counted.",
        usual="set-aside",
        may_accept=False,
    ),
    note(
        "call-unanswered",
        "A line of a list of calls without an answer.",
        says="No answer was written beside '{shown}'; what the other files say of it stands.",
        usual="set-aside",
        may_accept=False,
    ),
)
