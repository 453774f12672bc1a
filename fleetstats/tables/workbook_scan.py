"""Look through a workbook's parts before it is loaded: what loading would cost, and what it hides.

Each part is walked once by the XML parser without being kept, so that a few bytes which stand for
millions of cells (areas merged, links, formulas shared) are found before a cell is made.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from pathlib import Path
from xml.parsers import expat

from fleetstats.core.doors.zip_door import ZipRefused, open_zip, shown_name
from fleetstats.core.limits import above, most
from fleetstats.tables.table import TableError
from fleetstats.vocabulary.finding import make_finding

OLD_FILE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""First bytes of the older compound files, in which protected workbooks lie as well."""
LOCKED = "EncryptedPackage".encode("utf-16-le")
BLOCK = 2**20
OF_CELLS = frozenset(
    [
        "c",
        "v",
        "f",
        "is",
        "t",
        "r",
        "si",
        "row",
        "rPr",
        "rFont",
        "sz",
        "b",
        "i",
        "u",
        "color",
        "family",
        "scheme",
        "charset",
        "phoneticPr",
        "rPh",
    ]
)
"""Elements that cells and shared texts consist of; all others are counted apart."""

_END = r"\$?([A-Za-z]{1,3})?\$?([0-9]{1,7})?"
_AREA = re.compile(rf"{_END}(?::{_END})?")
LONGEST = most("cell_text")
LAST_ROW, LAST_COLUMN = 1_048_576, 16_384


def check_workbook(path: Path, name: str) -> None:
    """Refuse a workbook that is none, is protected, or would cost more than it may.

    Raises
    ------
    TableError
        With what was found, the limit and what would be right.
    """
    _check_kind(path, name)
    try:
        with open_zip(path, size="workbook_bytes", members="workbook_members") as archive:
            names = [i.filename for i in archive.infolist()]
            if "[Content_Types].xml" not in names:
                raise TableError(make_finding("file-unreadable/archive", file=name))
            twice = next((n for i, n in enumerate(names) if n in names[:i]), "")
            if twice:
                raise _odd(name, twice, "it is there twice")
            cost = Cost(name)
            for info in archive.infolist():
                _walk(archive, info, cost)
    except ZipRefused as e:
        raise _limit(name, "The workbook was refused:", str(e), "Save the sheet as CSV.") from None
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, EOFError):
        raise TableError(make_finding("file-unreadable/not-workbook", file=name)) from None


def _check_kind(path: Path, name: str) -> None:
    with path.open("rb") as f:
        if f.read(len(OLD_FILE)) != OLD_FILE:
            return
        f.seek(0)
        locked = LOCKED in f.read(most("table_bytes"))
    raise TableError(
        make_finding("file-unreadable/locked", file=name)
        if locked
        else make_finding("file-unreadable/old-workbook", file=name)
    )


class Cost:
    """What the parts of one workbook would cost together; raises `TableError` past a limit."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.n_cells = self.n_covered = self.n_shared = self.longest_formula = 0

    def add_cells(self, n: int) -> None:
        """Count cells and rows stored."""
        self.n_cells += n
        self._keep(self.n_cells, "sheet_cells", "The workbook stores",
                   "Delete needless sheets and empty rows, or save it as CSV.")  # fmt: skip

    def add_area(self, area: str) -> None:
        """Count the cells of a merged area or link."""
        self.n_covered += cells_of_area(area)
        self._keep(self.n_covered, "merged_cells", "Merged areas and links of the workbook cover",
                   "Undo merging and links, or save the sheet as CSV.")  # fmt: skip

    def add_formulas(self, n_shared: int, longest: int) -> None:
        """Count the text of formulas, written out for each cell that shares one."""
        self.n_shared += n_shared
        self.longest_formula = max(self.longest_formula, longest)
        self._keep(self.n_shared * self.longest_formula, "formula_text",
                   "Shared formulas of the workbook come to",
                   "Save the sheet as CSV, with values instead of formulas.")  # fmt: skip

    def keep_text(self, n: int) -> None:
        """Check the length of one cell's text."""
        self._keep(n, "cell_text", "A cell of the workbook has", "Shorten it.")

    def keep_part(self, n_elements: int, depth: int, part: str) -> None:
        """Check the size and the nesting of a part that holds no cells."""
        cure = "Save it anew, or save the sheet as CSV."
        part = shown_name(part)
        self._keep(n_elements, "workbook_elements", f"The workbook's part '{part}' has", cure)
        self._keep(depth, "depth", f"The workbook's part '{part}' nests", cure)

    def _keep(self, found: int, limit: str, what: str, right: str) -> None:
        if too_much := above(found, limit):
            raise _limit(self.name, what, too_much, right)


def cells_of_area(area: str) -> int:
    """Return how many cells an area such as ``"A1:C9"`` or ``"B:B"`` has; 0 where it is none."""
    m = _AREA.fullmatch(area.strip())
    if not m or not any(m.groups()):
        return 0
    c1, r1, c2, r2 = m.groups()
    if ":" not in area:
        c2, r2 = c1, r1
    columns = abs(_column(c2, LAST_COLUMN) - _column(c1, 1)) + 1
    rows = abs(int(r2 or LAST_ROW) - int(r1 or 1)) + 1
    return columns * rows


def _column(letters: str | None, missing: int) -> int:
    n = 0
    for c in letters or "":
        n = 26 * n + int(c, 36) - 9  # A, in either case, is 10 among digits of base 36
    return n or missing


def _walk(archive: zipfile.ZipFile, info: zipfile.ZipInfo, cost: Cost) -> None:
    """Walk one part, if it is XML; what cannot be parsed is left to the loader to refuse."""
    walk = _PartWalk(info.filename, cost)
    with archive.open(info) as f:
        try:
            block = f.read(BLOCK)
            if b"<" not in block[:64]:
                return
            while block:
                walk.parser.Parse(block, False)
                walk.settle()
                block = f.read(BLOCK)
        except (expat.ExpatError, zlib.error, zipfile.BadZipFile, EOFError):
            return


class _PartWalk:
    """One part under the parser; its counts go to the cost after each block of bytes."""

    def __init__(self, part: str, cost: Cost) -> None:
        self.part, self.cost = part, cost
        self.depth = self.deepest = self.n_other = self.n_cells = 0
        self.length = self.n_shared = self.longest_formula = 0
        self.in_formula = self.of_cells = False
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.CharacterDataHandler = self.text
        self.parser.StartDoctypeDeclHandler = self.doctype

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        if self.depth > self.deepest:
            self.deepest = self.depth
            self.cost.keep_part(0, self.deepest, self.part)
        name = tag.rpartition(" ")[2]
        self.in_formula = False
        if name == "c" or name == "row":
            self.n_cells += 1
            self.length = 0
            self.of_cells = True
        elif name == "si":
            self.length = 0
            self.of_cells = True
        elif name == "f":
            self.in_formula = True
            self.length = 0
            self.n_shared += attributes.get("t") == "shared"
        elif name == "mergeCell" or name == "hyperlink":
            self.cost.add_area(attributes.get("ref", ""))
        if name not in OF_CELLS:
            self.n_other += 1

    def end(self, _tag: str) -> None:
        self.depth -= 1

    def text(self, data: str) -> None:
        self.length += len(data)
        if self.in_formula and self.length > self.longest_formula:
            self.longest_formula = self.length
        if self.of_cells and self.length > LONGEST:
            self.cost.keep_text(self.length)

    def doctype(self, *_: object) -> None:
        raise TableError(
            make_finding(
                "file-unreadable/entities", file=self.cost.name, part=shown_name(self.part)
            )
        )

    def settle(self) -> None:
        """Hand the counts on."""
        self.cost.add_cells(self.n_cells)
        self.cost.add_formulas(self.n_shared, self.longest_formula)
        self.cost.keep_part(self.n_other, 0, self.part)
        self.n_cells = self.n_shared = 0


def _odd(name: str, part: str, problem: str) -> TableError:
    return TableError(
        make_finding("file-unreadable/odd-part", file=name, part=shown_name(part), problem=problem)
    )


def _limit(name: str, what: str, found: str, right: str) -> TableError:
    return TableError(
        make_finding("file-too-large/limit", file=name, what=what, found=found, right=right)
    )
