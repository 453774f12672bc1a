"""Deciding about odd cells: what may be mended, in a workbook or a page, and what was decided."""
