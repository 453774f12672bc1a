"""Record files that are made to fill the memory, to run without end, or to hide what they hold.

Each maker writes one file into a folder and returns its name; `says` must stand in the refusal. All
are invented by us; the XML and zip bombs are of common knowledge, no source.
"""

from __future__ import annotations

import io
import os
import socket
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

LIVES = b"engine,exit_hours,ending\nE-1,400,failed\nE-2,500,running\n"
MIB = 2**20


@dataclass(frozen=True)
class Hostile:
    """A case: its name, what writes the file, and what the refusal says."""

    name: str
    file: str
    write: Callable[[Path], object]
    says: str


def text(data: bytes) -> Callable[[Path], object]:
    return lambda path: path.write_bytes(data)


def endless_quote(path: Path) -> None:
    path.write_bytes(LIVES + b'"E-3' + b",1,failed\nE-4" * 20_000)


def plain_socket(path: Path) -> None:
    """Leave a socket at the path; its name may be longer than sockets take."""
    here = Path.cwd()
    os.chdir(path.parent)
    try:
        with socket.socket(socket.AF_UNIX) as s:
            s.bind(path.name)
    finally:
        os.chdir(here)


TEXTS = (
    Hostile("a line without end", "a.csv", text(LIVES + b"a" * (9 * MIB)), "Line 4 .*8 MiB"),
    Hostile("a header of 10,000 columns", "a.csv",
            text(b",".join(b"c%d" % i for i in range(10_000))), "10000 columns. The limit is 500"),
    Hostile("a line of 30,000 cells", "a.csv", text(LIVES + b"," * 30_000),
            "Line 4 has 30,001 cells, and the limit is 20,000"),
    Hostile("a cell of 200,000 letters", "a.csv", text(LIVES + b"a" * 200_000 + b",1,failed\n"),
            "longer than 131,072 characters"),
    Hostile("a quotation mark left open", "a.csv", endless_quote, "quotation mark"),
    Hostile("UTF-16 that breaks off", "a.csv", text(LIVES.decode().encode("utf-16")[:-1]),
            "breaks off"),
    Hostile("bytes that are no text", "a.csv", text(b"PK\x03\x04\x81\x8d\x8f\x00" * 900),
            "neither UTF-8 nor"),
    Hostile("nothing at all", "a.csv", text(b""), "is empty"),
    Hostile("a pipe", "a.csv", os.mkfifo, "a pipe, no regular file"),
    Hostile("a device without end", "a.csv", lambda p: p.symlink_to("/dev/zero"), "a device"),
    Hostile("a folder", "a.csv", lambda p: p.mkdir(), "a folder"),
    Hostile("a socket", "a.csv", plain_socket, "a socket"),
)  # fmt: skip

# -- workbooks ------------------------------------------------------------------------------------

SHEET = (
    '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>{rows}'
    "</sheetData>{after}</worksheet>"
)
ROWS = (
    '<row r="1"><c r="A1" t="inlineStr"><is><t>engine</t></is></c></row>'
    '<row r="2"><c r="A2" t="inlineStr"><is><t>E-1</t></is></c></row>'
)


def honest_parts() -> dict[str, bytes]:
    from openpyxl import Workbook

    book = Workbook()
    book.active.append(["engine", "exit_hours", "ending"])
    book.active.append(["E-1", 400, "failed"])
    out = io.BytesIO()
    book.save(out)
    with zipfile.ZipFile(out) as z:
        return {n: z.read(n) for n in z.namelist()}


def pack(parts: dict[str, bytes], path: Path, way: int = zipfile.ZIP_DEFLATED) -> None:
    with zipfile.ZipFile(path, "w", way) as z:
        for name, data in parts.items():
            z.writestr(name, data)


def sheet(rows: str = ROWS, after: str = "", head: str = "") -> Callable[[Path], object]:
    """Return a maker of a workbook with a sheet written by hand."""

    def write(path: Path) -> None:
        text = head + SHEET.format(rows=rows, after=after)
        pack(honest_parts() | {"xl/worksheets/sheet1.xml": text.encode()}, path)

    return write


def part(name: str, data: bytes, way: int = zipfile.ZIP_DEFLATED) -> Callable[[Path], object]:
    return lambda path: pack(honest_parts() | {name: data}, path, way)


def laughs() -> str:
    """Return a document type whose last entity stands for a thousand million letters."""
    levels = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, 10))
    return f'<!DOCTYPE x [<!ENTITY e0 "ha">{levels}]>'


def two_of_a_part(path: Path) -> None:
    pack(honest_parts(), path)
    name = "xl/worksheets/sheet1.xml"
    with zipfile.ZipFile(path, "a") as z, pytest.warns(UserWarning, match="Duplicate"):
        z.writestr(name, SHEET.format(rows=ROWS, after=""))


def flag_encrypted(path: Path) -> None:
    pack(honest_parts(), path)
    data = bytearray(path.read_bytes())
    # the general purpose flag, at offset 8 of a record of the central directory (APPNOTE 4.3.12)
    at = data.index(b"PK\x01\x02") + 8
    data[at] |= 1
    path.write_bytes(bytes(data))


def compound(inner: bytes) -> Callable[[Path], object]:
    """Return a maker of the first bytes of an older compound file ([MS-CFB] 2.2)."""
    return text(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504) + inner)


SHARED = '<row r="{0}"><c r="A{0}"><f t="shared" si="0">{1}</f><v>1</v></c></row>'
BOMB_ROWS = ROWS + SHARED.format(3, "1+" * 30_000 + "1")
BOMB_ROWS += "".join(SHARED.format(n, "") for n in range(4, 2004))
MERGED = "".join(f'<mergeCell ref="{c}1:{c}1048576"/>' for c in "ABC")

WORKBOOKS = (
    Hostile("areas merged over the whole sheet", "a.xlsx",
            sheet(after=f'<mergeCells count="3">{MERGED}</mergeCells>'),
            "1,048,576 cells, and the limit is 200,000"),
    Hostile("a link over the whole sheet", "a.xlsx",
            sheet(after='<hyperlinks><hyperlink ref="A1:XFD1048576" location="A1"/></hyperlinks>'),
            "17,179,869,184 cells"),
    Hostile("a formula shared by thousands", "a.xlsx", sheet(BOMB_ROWS), "Shared formulas .*limit"),
    Hostile("entities within entities", "a.xlsx", sheet(head=laughs()), "declares entities"),
    Hostile("an entity from outside", "a.xlsx",
            sheet(head='<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]>'),
            "declares entities"),
    Hostile("entities in UTF-16", "a.xlsx",
            part("xl/sharedStrings.xml", (laughs() + "<sst/>").encode("utf-16")), "entities"),
    Hostile("shared texts of 100 MB", "a.xlsx",
            part("xl/sharedStrings.xml", b"<sst><si><t>" + b"a" * (100 * MIB) + b"</t></si></sst>"),
            "limit is 400 times"),
    Hostile("a cell of 200,000 letters", "a.xlsx",
            sheet(ROWS.replace("E-1", "E-1 \u00e9" * 50_000)), "limit is 131,072 characters"),
    Hostile("elements within elements", "a.xlsx", sheet(after="<a>" * 9_000 + "</a>" * 9_000),
            "65 levels, and the limit is 64"),
    Hostile("a million styles", "a.xlsx",
            part("xl/styles.xml", b"<s>" + b"".join(b"<x n='%d'/>" % i for i in range(600_000))),
            "elements, and the limit is 500,000"),
    Hostile("a cell far away", "a.xlsx",
            sheet(ROWS + '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'),
            "1,048,576 rows by 16,384 columns"),
    Hostile("parts by the thousand", "a.xlsx",
            lambda p: pack(honest_parts() | {f"x/{i}": b"" for i in range(2_100)}, p),
            "members, and the limit is 2,000"),
    Hostile("a part that is there twice", "a.xlsx", two_of_a_part, "there twice"),
    Hostile("a part packed with a dictionary of its own size", "a.xlsx",
            part("x", b"x", zipfile.ZIP_LZMA), "uncommon way"),
    Hostile("a part that is encrypted", "a.xlsx", flag_encrypted, "is encrypted"),
    Hostile("a password", "a.xlsx", compound("EncryptedPackage".encode("utf-16-le")),
            "protected by a password"),
    Hostile("an older workbook", "a.xlsx", compound(b"Workbook"), "older .xls kind"),
    Hostile("another archive", "a.xlsx", lambda p: pack({"word/document.xml": b"<a/>"}, p),
            "an archive, not a workbook"),
)  # fmt: skip

# -- Parquet --------------------------------------------------------------------------------------


def dictionary_bomb(path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    texts = pa.DictionaryArray.from_arrays(pa.array([0] * 4_000, pa.int32()), ["x" * 2_000_000])
    pq.write_table(
        pa.table({"engine": texts, "exit_hours": [1.0] * 4_000}), path, compression="zstd"
    )


def prefix_bomb(path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    table = pa.table({"engine": ["x" * 100_000] * 600})
    pq.write_table(
        table, path, use_dictionary=False, column_encoding={"engine": "DELTA_BYTE_ARRAY"}
    )


def list_bomb(path: Path) -> None:
    import numpy as np
    import pyarrow as pa
    import pyarrow.parquet as pq

    lists = pa.ListArray.from_arrays([0, 2_000_000], pa.array(np.zeros(2_000_000, np.int8)))
    pq.write_table(pa.table({"engine": lists}), path)


def strange_zone(path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    when = pa.array([1, 2], pa.timestamp("us", tz="Mars/Phobos"))
    pq.write_table(pa.table({"engine": ["a", "b"], "exit_date": when}), path)


def wide_parquet(path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    pq.write_table(pa.table({f"c{i}": [1] for i in range(600)}), path)


PARQUETS = (
    Hostile("one long text and a run of numbers", "a.parquet", dictionary_bomb,
            "7,629.4 MiB, and the limit is 1,024 MiB"),
    Hostile("a time zone that is none", "a.parquet", strange_zone, "not a readable Parquet"),
    Hostile("600 columns", "a.parquet", wide_parquet, "600 columns. .* 500 columns"),
    Hostile("marks of Parquet around nothing", "a.parquet",
            text(b"PAR1" + b"\xff" * 400 + b"\xff\xff\xff\x7fPAR1"), "not a readable Parquet"),
)  # fmt: skip

TABLES = (*TEXTS, *WORKBOOKS, *PARQUETS)
