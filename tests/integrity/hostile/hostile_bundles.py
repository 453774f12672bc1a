"""Bundles that are made to harm whoever verifies them; each maker writes one zip.

Members and headers are written by hand where no honest program would write them, after the layout
of PKZIP's APPNOTE 4.3 (from memory). All are invented by us.
"""

from __future__ import annotations

import os
import random
import stat
import struct
import unicodedata
import warnings
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from fleetstats.report.bundle.pack import LIST, write_bundle

STUDY = b"""\
[study]
title = "Six lives"
analysis_date = 2026-09-30
[[records]]
file = "lives.csv"
shape = "lives"
"""
LIVES = b"engine,exit,ending\nSN-77,400,failed\nSN-78,600,running\n"
MEMBERS = {"study/study.toml": STUDY, "study/lives.csv": LIVES, "report/results.json": b"{}"}


@dataclass(frozen=True)
class Hostile:
    """A case: its name, what writes the zip, and what the refusal (or the verdict) says."""

    name: str
    write: Callable[[Path], object]
    says: str


def bundle(more: Mapping[str, bytes]) -> Callable[[Path], object]:
    """Return a maker of a bundle that is right but for what is given."""
    return lambda path: write_bundle({**MEMBERS, **more}, path, name="six", seed=1)


def raw(members: list[tuple[str | zipfile.ZipInfo, bytes]]) -> Callable[[Path], object]:
    """Return a maker of a zip of these members alone."""

    def write(path: Path) -> None:
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as z, warnings.catch_warnings():
            warnings.simplefilter("ignore")  # doubled names are meant
            for name, data in members:
                z.writestr(name, data)

    return write


def name(text: str) -> Callable[[Path], object]:
    return raw([(text, b"x"), (LIST, b"{}")])


def nul_in_a_name(path: Path) -> None:
    name("study/aXb")(path)
    path.write_bytes(path.read_bytes().replace(b"study/aXb", b"study/a\0b"))


def link(path: Path) -> None:
    info = zipfile.ZipInfo("study/lives.csv")
    info.create_system, info.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
    raw([(info, b"/etc/hostname")])(path)


def patched(offset: int, data: bytes) -> Callable[[Path], object]:
    """Return a maker of an honest zip with bytes changed in its first central record."""

    def write(path: Path) -> None:
        bundle({})(path)
        whole = bytearray(path.read_bytes())
        at = whole.index(b"PK\x01\x02") + offset
        whole[at : at + len(data)] = data
        path.write_bytes(bytes(whole))

    return write


def huge_directory(path: Path) -> None:
    """A table of members of 6 MiB, most of it comments."""
    info = zipfile.ZipInfo("a")
    with zipfile.ZipFile(path, "w") as z:
        for i in range(100):
            info = zipfile.ZipInfo(f"a{i}")
            info.comment = b"c" * 65_000
            z.writestr(info, b"")


def lying_zip64(path: Path) -> None:
    """An end record that points to a 64-bit one, which tells of 2**60 bytes of members."""
    bundle({})(path)
    data = path.read_bytes()
    end = data.index(b"PK\x05\x06")
    record = struct.pack("<4sQHHLLQQQQ", b"PK\x06\x06", 44, 45, 45, 0, 0, 9, 9, 2**60, 0)
    locator = struct.pack("<4sLQL", b"PK\x06\x07", 0, end, 1)
    tail = struct.pack("<4sHHHHLLH", b"PK\x05\x06", 0, 0, 65535, 65535, 2**32 - 1, 2**32 - 1, 0)
    path.write_bytes(data[:end] + record + locator + tail)


def bomb(path: Path) -> None:
    raw([("study/lives.csv", b"0" * 30_000_000), (LIST, b"{}")])(path)


def many(path: Path) -> None:
    raw([(f"a/{i}", b"") for i in range(5_001)])(path)


def sum_of_parts(path: Path) -> None:
    """Members of 1 MiB each, below the size from which a ratio is looked at: 513 MiB together."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as z:
        z.writestr("a/0", b"0" * 2**20)
        info, at = z.infolist()[0], 0
        for i in range(1, 513):  # all records point to the one member that is stored
            twin = zipfile.ZipInfo(f"a/{i}")
            twin.compress_type, twin.CRC = info.compress_type, info.CRC
            twin.file_size, twin.compress_size = info.file_size, info.compress_size
            twin.header_offset = at
            z.filelist.append(twin)


def listed(text: bytes) -> Callable[[Path], object]:
    return raw([(LIST, text)])


def results(text: bytes) -> Callable[[Path], object]:
    return bundle({"report/results.json": text})


def study(text: bytes) -> Callable[[Path], object]:
    return bundle({"study/study.toml": text})


DEEP = b'{"a":' * 900 + b"1" + b"}" * 900
ACCENT = "study/\u00e9.csv"

ARCHIVES = (
    Hostile("a name that climbs", name("../x"), "leads out of its folder"),
    Hostile("a name that climbs further down", name("study/../../x"), "leads out"),
    Hostile("an absolute name", name("/tmp/x"), "leads out"),
    Hostile("a drive", name("C:/x"), "leads out"),
    Hostile("a name with a NUL", nul_in_a_name, "no plain name"),
    Hostile("a name that steers a terminal", name("study/\x1b[31mred"), r"\\x1b\[31mred"),
    Hostile("a name that turns its direction", name("study/a\u202evsc.exe"), r"\\u202e"),
    Hostile("a device", name("study/aux.csv"), "another system"),
    Hostile("a device with a number", name("study/COM1"), "another system"),
    Hostile("a name that ends with a point", name("study/lives.csv."), "another system"),
    Hostile("a name of 300 letters", name("a" * 300), "300 characters, and the limit is 240"),
    Hostile("folders in folders", name("a/" * 60 + "x"), "leads out"),
    Hostile("capitals apart", raw([("study/A", b"1"), ("study/a", b"2")]), "are one name"),
    Hostile("accents apart", raw([(ACCENT, b"1"), (unicodedata.normalize("NFD", ACCENT), b"2")]),
            "are one name"),
    Hostile("a file that is a folder", raw([("a", b"1"), ("a/b", b"2")]), "a file and a folder"),
    Hostile("a link", link, "is a link"),
    Hostile("an encrypted member", patched(8, b"\1\0"), "is encrypted"),
    Hostile("a member packed in an uncommon way", patched(10, b"\x0e\0"), "uncommon way"),
    Hostile("a size that lies low", patched(24, b"\x0a\0\0\0"), "cannot be read as a zip"),
    Hostile("a size that lies high", patched(24, b"\xff\xff\xff\x7f"), "limit is 512 MiB"),
    Hostile("a checksum that lies", patched(16, b"\0\0\0\0"), "cannot be read as a zip"),
    Hostile("a member that lies elsewhere", patched(42, b"\xff\xff\0\0"), "as a zip"),
    Hostile("a 64-bit record that lies", lying_zip64, "cannot be read as a zip|table of members"),
    Hostile("a huge table of members", huge_directory, "table of members has .*limit is 4 MiB"),
    Hostile("a bomb", bomb, "limit is 400 times"),
    Hostile("one member under 513 names", sum_of_parts, "unpacks to .*limit is 512 MiB"),
    Hostile("5,001 members", many, "5,001 members, and the limit is 5,000"),
    Hostile("a pipe", os.mkfifo, "a pipe, no regular file"),
    Hostile("a device without end", lambda p: p.symlink_to("/dev/zero"), "a device"),
    Hostile("a folder for a bundle", lambda p: p.mkdir(), "a folder"),
    Hostile("no zip", lambda p: p.write_bytes(b"PK\x05\x06" * 9_000), "as a zip"),
)  # fmt: skip

LISTS = (
    Hostile("a list that nests 900 deep", listed(DEEP), "900 levels, and the limit is 64"),
    Hostile("a list of brackets", listed(b"[" * 200_000), "levels, and the limit is 64"),
    Hostile("a list that is no number", listed(b'{"seed": NaN}'), "NaN is no number"),
    Hostile("a list beyond all numbers", listed(b'{"seed": 1e999}'), "larger than any"),
    Hostile("a list with 5,001 digits", listed(b"1" * 5_001), "5,001 digits, and the limit"),
    Hostile("a list with half of a letter", listed(b'{"a": "\\ud800"}'), "half of a letter"),
    Hostile("a list in UTF-16", listed('{"a": 1}'.encode("utf-16")), "not UTF-8"),
    Hostile("a list with a mark of order", listed(b"\xef\xbb\xbf{}"), "BOM"),
    Hostile("a list of bytes", listed(b"\xff\xfe\xfd"), "not UTF-8"),
)

LONG = b"#" + random.Random(1).randbytes(2**19).hex().encode()
"""A study file just beyond the limit, of letters that cannot be packed much smaller."""
NOTHING = "results.json is missing or no JSON"
INSIDES = (
    Hostile("results that nest 900 deep", results(DEEP), NOTHING),
    Hostile("results that are no number", results(b'{"a": Infinity}'), NOTHING),
    Hostile("results with 5,001 digits", results(b'{"a": ' + b"9" * 5_001 + b"}"), NOTHING),
    Hostile("results of bytes", results(bytes(range(128, 256))), NOTHING),
    Hostile("settings that nest 10,000 deep", study(b"a = " + b"[" * 10_000), "nest deeper"),
    Hostile("settings that nest 100 deep", study(b"a = " + b"[" * 100 + b"]" * 100),
            "levels, and the limit is 64"),
    Hostile("settings with 10,000 dots", study(b"a" + b".a" * 10_000 + b" = 1"), "10,000 dots"),
    Hostile("settings with 5,001 digits", study(b"a = " + b"1" * 5_001), "more digits"),
    Hostile("settings with 301 digits", study(b"a = " + b"1" * 301), "301 digits"),
    Hostile("settings beyond all numbers", study(STUDY.replace(b"\n[[", b"\nseed = nan\n[[")),
            "study.seed = nan"),
    Hostile("settings in UTF-16", study(STUDY.decode().encode("utf-16")), "not UTF-8"),
    Hostile("settings with an escape", study(STUDY.replace(b"Six", b"\\u001b[31m")), "printable"),
    Hostile("settings without end", study(LONG), "limit is 1 MiB"),
    Hostile("settings that name 501 files",
            study(STUDY + b'[[records]]\nfile = "lives.csv"\n' * 500), "at most 500"),
    Hostile("settings that lead out", study(STUDY.replace(b"lives.csv", b"../../etc/hostname")),
            "within the study's folder"),
    Hostile("settings that lead to the root", study(STUDY.replace(b"lives.csv", b"/etc/hostname")),
            "within the study's folder"),
)  # fmt: skip
