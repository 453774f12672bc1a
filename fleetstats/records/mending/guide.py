"""What the first sheet of the workbook says."""

from __future__ import annotations

GUIDE = (
    "Decide on the sheet 'Odd cells' alone; the other sheets show each cell in its row, coloured, "
    "with a note, and in words in the last column. What is typed over there is not read.",
    "Each row of 'Odd cells' is a finding. Choose a decision; write why, and your role (no name).",
    "Nothing is changed in the files that were supplied. Decisions are kept beside them, are named "
    "in every report with their reasons, and can be taken back one by one.",
    "Write numbers as 1234.5 and days as 2026-03-31; both are read so whatever the file does. "
    "'unknown' says that nobody knows.",
    "A word that may tell of a failure is for somebody who knows the records: a decision that "
    "takes a failure out stands on the first page of the report.",
    "A cell that is not listed may be added below: file, sheet, row, column, 'give another', the "
    "value, why and by.",
    "A finding without a row is about a whole file; study.toml decides about it.",
)
