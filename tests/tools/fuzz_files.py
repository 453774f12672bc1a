"""Files of every kind that a study may hold, made up and spoilt at one place, for `fuzz.py`."""

from __future__ import annotations

import csv
import hashlib
import io
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

Rng = np.random.Generator
Rows = list[list[str]]

WORDS = (
    "failed", "running", "FAILED", " failed ", "removed", "lost", "piston", "", "?", "n/a", "-",
    "yes", "0", "-1", "1e308", "1e-310", "nan", "inf", "12,5", "1.250,0", "12.500",
    "44300", "2026-02-30",
    "1899-12-31", "9999-12-31", "31/12/2024", "12/31/2024", "about 700", "over 1,000", "1:30",
    "=1+1", "\u200b", "\ufeff", "é" * 70, "x" * 5000, "9" * 400, "\x00", "\x1b[2J", "E-001",
    "e 001", "Ⅷ", "١٢٣", "TOTAL", "Signature", "crankshaft broke", "true", "#REF!", "null",
)  # fmt: skip


def lives(rng: Rng) -> Rows:
    """Return a table of lives with its header, of one to eighty engines."""
    n = int(rng.integers(1, 80))
    columns = ["engine", "exit_hours", "ending", "cause", "last_reading_date", "note"]
    more = {
        "entry_hours": lambda: f"{rng.uniform(0, 300):.1f}" if rng.random() < 0.3 else "0",
        "source": lambda: str(rng.choice(["north", "south"])),
        "build": lambda: str(rng.choice(["A", "B", ""])),
        "in_service_date": lambda: f"20{rng.integers(10, 20)}-0{rng.integers(1, 9)}-15",
        "confirmed": lambda: str(rng.choice(["yes", "no", ""])),
        "count": lambda: str(rng.choice(["1", "1", "3"])),
        "last_good_hours": lambda: str(rng.choice(["", "310.5"])),
    }
    chosen = [c for c in more if rng.random() < 0.5]
    rows = [[*columns, *chosen]]
    for i in range(n):
        failed = rng.random() < 0.25
        rows.append(
            [
                f"E{i:03d}",
                f"{rng.uniform(310, 2200):.1f}",
                str(rng.choice(["failed", "found-at-check", "removed"])) if failed else "running",
                str(rng.choice(["piston", "bearing", "propeller strike"])) if failed else "",
                f"202{rng.integers(3, 6)}-1{rng.integers(0, 3)}-0{rng.integers(1, 10)}",
                "",
                *(more[c]() for c in chosen),
            ]
        )
    return rows


def log(rng: Rng) -> Rows:
    """Return a log of events with its header."""
    rows = [["engine", "date", "hours", "event", "cause", "note"]]
    for i in range(int(rng.integers(1, 30))):
        hours, year = 0.0, 2012
        rows.append([f"E{i:03d}", f"{year}-03-01", "0", "installed", "", ""])
        for _ in range(int(rng.integers(0, 7))):
            hours, year = hours + float(rng.uniform(20, 300)), year + 1
            kind = str(
                rng.choice(["reading", "reading", "check", "finding", "overhauled", "failed"])
            )
            rows.append(
                [f"E{i:03d}", f"{year}-05-1{rng.integers(0, 9)}", f"{hours:.1f}", kind, "", ""]
            )
            if kind == "failed":
                rows[-1][4] = "piston"
                break
    return rows


def histories(rng: Rng) -> Rows:
    """Return engines with their histories in columns, under a header."""
    rows = [["engine", "hours_now", "last_reading_date", "ending", "failed_at_1",
             "failure_1_date", "cause_1", "work_done_1", "back_in_service_at_1", "overhauled_at",
             "meter_changed_at", "new_meter_reading"]]  # fmt: skip
    for i in range(int(rng.integers(1, 40))):
        now = float(rng.uniform(300, 2200))
        row = [f"E{i:03d}", f"{now:.1f}", "2025-10-04", "running", *[""] * 8]
        if rng.random() < 0.3:
            row[4:9] = [
                f"{0.5 * now:.1f}",
                "2020-05-01",
                "piston",
                "new piston",
                f"{0.5 * now:.1f}",
            ]
        if rng.random() < 0.1:
            row[9] = f"{0.7 * now:.1f}"
        if rng.random() < 0.1:
            row[10:12] = [f"{0.6 * now:.1f}", "0"]
        rows.append(row)
    return rows


def checks(rng: Rng) -> Rows:
    """Return checks of engines that `lives` names."""
    rows = [["engine", "date", "hours", "result", "finding"]]
    for i in range(int(rng.integers(1, 40))):
        hours = f"{rng.uniform(20, 300):.1f}"
        what = str(rng.choice(["nothing found", "finding", ""]))
        rows.append([f"E{i % 20:03d}", f"2021-0{rng.integers(1, 10)}-11", hours, what, ""])
    return rows


def leakdown(rng: Rng) -> Rows:
    """Return leak-down readings of engines that `lives` names."""
    rows = [["engine", "date", "hours", "cylinder", "reading"]]
    for i in range(int(rng.integers(1, 60))):
        rows.append([f"E{i % 7:03d}", f"2021-0{rng.integers(1, 10)}-11", f"{40 * (i // 7)}",
                     f"{i % 4 + 1}", f"{rng.integers(55, 80)}"])  # fmt: skip
    return rows


def bench(rng: Rng) -> Rows:
    """Return parts run on the bench."""
    rows = [["part", "stress", "life", "ending"]]
    for i in range(int(rng.integers(1, 30))):
        rows.append([f"P{i}", f"{rng.choice([180, 220, 260])}", f"{rng.uniform(1e4, 1e6):.0f}",
                     str(rng.choice(["failed", "failed", "run-out"]))])  # fmt: skip
    return rows


MAKERS: dict[str, Callable[[Rng], Rows]] = {
    "lives": lives, "log": log, "histories": histories,
    "checks": checks, "leakdown": leakdown, "bench": bench,
}  # fmt: skip


def mutate_rows(rows: Rows, rng: Rng) -> None:
    """Change a table at one place."""
    body = rows[1:] or rows
    row = body[int(rng.integers(len(body)))]
    at = int(rng.integers(len(row))) if row else 0
    what = int(rng.integers(9))
    if what <= 3 and row:
        row[at] = str(rng.choice(WORDS))
    elif what == 4:
        rows.insert(int(rng.integers(len(rows) + 1)), list(row))
    elif what == 5:
        rows[:] = [[c for i, c in enumerate(r) if i != at] for r in rows]
    elif what == 6:
        row.append(str(rng.choice(WORDS)))
    elif what == 7 and rows[0]:
        rows[0][int(rng.integers(len(rows[0])))] = str(rng.choice(["engine", "hours", *WORDS]))
    else:
        for r in body:
            if rng.random() < 0.5 and at < len(r):
                r[at] = str(rng.choice(WORDS))


def mutate_bytes(raw: bytes, rng: Rng) -> bytes:
    """Change a file at one place without knowing what it is."""
    if not raw:
        return raw
    at = int(rng.integers(len(raw)))
    n = int(rng.integers(1, 40))
    ways: tuple[Callable[[], bytes], ...] = (
        lambda: raw[:at],
        lambda: raw[:at] + raw[at + n :],
        lambda: raw[:at] + bytes(rng.integers(0, 256, n, dtype=np.uint8)) + raw[at:],
        lambda: raw[:at] + b'"' + raw[at:],
        lambda: raw[:at] + raw[max(at - n, 0) : at] * 3 + raw[at:],
        lambda: raw.decode("utf-8", "replace").encode("utf-16"),
        lambda: raw.decode("utf-8", "replace").encode("cp1252", "replace"),
        lambda: raw.replace(b"\n", b"\r"),
        lambda: b"\xef\xbb\xbf" + raw,
        lambda: raw + b"\n" * n,
    )
    return ways[int(rng.integers(len(ways)))]()


def mutate_zip(raw: bytes, rng: Rng) -> bytes:
    """Change one member of a zip: its bytes, its name, its place, or how often it is there."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as z:
            members = [(i.filename, z.read(i)) for i in z.infolist()]
    except (zipfile.BadZipFile, KeyError):
        return mutate_bytes(raw, rng)
    at, what = int(rng.integers(len(members))), int(rng.integers(7))
    name, data = members[at]
    if what <= 2:
        members[at] = name, mutate_bytes(data, rng)
    elif what == 3:
        del members[at]
    elif what == 4:
        members[at] = str(rng.choice(["../" + name, "/" + name, name.upper(), "x/" + name])), data
    elif what == 5:
        members.append((str(rng.choice(["more.txt", name, "a/b/c"])), data))
    else:
        members[at] = name, b""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        import warnings

        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of a name that stands there twice
            for name, data in members:
                z.writestr(name, data)
    return out.getvalue()


def as_text(rows: Rows, rng: Rng) -> bytes:
    """Return a table as text, in one of the ways in which programs write it."""
    mark = str(rng.choice([",", ",", ";", "\t"]))
    out = io.StringIO()
    ends = str(rng.choice(["\n", "\r\n"]))
    csv.writer(out, delimiter=mark, lineterminator=ends).writerows(rows)
    return out.getvalue().encode("utf-8", "surrogatepass")


def as_workbook(rows: Rows, rng: Rng) -> bytes:
    """Return a table as a workbook: numbers as numbers or text, merged cells, more sheets."""
    from openpyxl import Workbook
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    book = Workbook()
    sheet: Any = book.active
    for _ in range(int(rng.integers(0, 3))):
        sheet.append([])
    as_numbers = rng.random() < 0.7
    for row in rows:
        sheet.append([_cell(ILLEGAL_CHARACTERS_RE.sub("", c)[:32_000], as_numbers) for c in row])
    if rng.random() < 0.2:
        sheet.merge_cells(str(rng.choice(["A2:A4", "B1:C1", "A1:D3", "B2:B900"])))
    if rng.random() < 0.2:
        sheet.row_dimensions[2].hidden = True
    if rng.random() < 0.2:
        book.create_sheet("notes").append(["engine", "TOTAL"])
    out = io.BytesIO()
    book.save(out)
    raw = out.getvalue()
    return mutate_zip(raw, rng) if rng.random() < 0.3 else raw


def _cell(text: str, as_numbers: bool) -> object:
    if as_numbers:
        try:
            number = float(text)
        except ValueError:
            pass
        else:
            return number if np.isfinite(number) else text
    return text


def as_parquet(rows: Rows, rng: Rng) -> bytes:
    """Return a table as Parquet: columns of text, of numbers where all are, some of odd types."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    names = [f"{n}" for n in (rows[0] if rows else ["engine"])]
    body = [[*r, *[""] * len(names)][: len(names)] for r in rows[1:]]
    columns, used = {}, set()
    for k, name in enumerate(names):
        cells = [r[k] for r in body]
        kind = int(rng.integers(8))
        try:
            if kind <= 3:
                made = pa.array([float(c) if c else None for c in cells])
            elif kind == 4:
                made = pa.array(cells).dictionary_encode()
            elif kind == 5 and rng.random() < 0.3:
                made = pa.array([[c] for c in cells])
            elif kind == 6 and rng.random() < 0.3:
                made = pa.array([int(float(c)) if c else 0 for c in cells]).cast(pa.timestamp("us"))
            else:
                made = pa.array(cells)
        except (ValueError, OverflowError, pa.ArrowException):
            made = pa.array([c.encode("utf-8", "replace").decode() for c in cells])
        while name in used:
            name += "_"
        used.add(name)
        columns[name] = made
    out = io.BytesIO()
    pq.write_table(pa.table(columns), out, row_group_size=int(rng.choice([1, 7, 1000])))
    return out.getvalue()


WRITERS: dict[str, Callable[[Rows, Rng], bytes]] = {
    "csv": as_text, "xlsx": as_workbook, "parquet": as_parquet,
}  # fmt: skip


def mends_table(folder: Path, name: str, rows: Rows, rng: Rng) -> bytes:
    """Return a table of decisions about cells of a file, right ones and wrong ones."""
    digest = hashlib.sha256((folder / name).read_bytes()).hexdigest()
    out = [["file", "digest", "sheet", "row", "column", "act", "old", "new", "why", "by", "when"]]
    for _ in range(int(rng.integers(1, 4))):
        at = int(rng.integers(1, max(len(rows), 2)))
        k = int(rng.integers(len(rows[0]))) if rows[0] else 0
        row = rows[at] if at < len(rows) else []
        out.append([name, digest, "", f"{at + 1}", rows[0][k] if rows[0] else "",
                    str(rng.choice(["value", "value", "set-aside", "?"])),
                    row[k] if k < len(row) else "", str(rng.choice(WORDS)), "seen", "keeper",
                    "2026-01-05"])  # fmt: skip
    if rng.random() < 0.4:
        mutate_rows(out, rng)
    made = io.StringIO()
    csv.writer(made, lineterminator="\n").writerows(out)
    raw = made.getvalue().encode("utf-8", "surrogatepass")
    return mutate_bytes(raw, rng) if rng.random() < 0.15 else raw
