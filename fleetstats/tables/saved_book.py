"""A workbook as bytes, whatever the clock shows: the format has no year before 1980."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from openpyxl import Workbook

FIRST_TIME = (1980, 1, 1, 0, 0, 0)
"""Date of every member: two savings of one workbook differ in nothing but what it holds."""


class _Dateless(zipfile.ZipFile):
    """An archive whose members have one date, and not that of the clock or of a file."""

    def writestr(self, zinfo_or_arcname: Any, data: Any, *_: Any, **__: Any) -> None:
        """Add a member from its bytes."""
        name = getattr(zinfo_or_arcname, "filename", zinfo_or_arcname)
        super().writestr(zipfile.ZipInfo(name, FIRST_TIME), data, zipfile.ZIP_DEFLATED)

    def write(self, filename: Any, arcname: Any = None, *_: Any, **__: Any) -> None:
        """Add a member from a file."""
        self.writestr(arcname or str(filename), Path(filename).read_bytes())


def saved_book(book: Workbook) -> bytes:
    """Return a workbook as the bytes of its file."""
    from openpyxl.writer.excel import ExcelWriter

    raw = io.BytesIO()
    ExcelWriter(book, _Dateless(raw, "w", zipfile.ZIP_DEFLATED)).save()
    return raw.getvalue()
