"""One rule for which spellings are one word: no file outside `vocabulary` folds text."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "fleetstats"
FOLDING = {"casefold", "lower", "upper", "swapcase", "title",
           "normalize", "is_normalized", "translate", "maketrans",
           "utf8_lower", "utf8_upper", "ascii_lower", "ascii_upper", "utf8_swapcase",
           "ascii_swapcase", "utf8_normalize", "char_lower"}  # fmt: skip
"""Calls that fold text, of strings and of whole columns. `capitalize` makes a sentence of a phrase
and is no way to compare."""
MAY = {
    "core/arguments.py": "the nearest of our own words to one misspelt in a call; no records",
    "core/value.py": "names of classes and enumerations to the names that JSON shows; no records",
    "demo/write.py": "the invented clerk writes ids in small letters on purpose",
    "tables/cells.py": "composes characters (NFC) of a cell that is kept as written",
    "report/tables.py": "a workbook takes two sheets as one where they differ in case alone",
    "study/slips/likely.py": "a value of the study file as TOML would have it; no records",
    "report/bundle/verify.py": "a digest in hexadecimal digits",
    "report/bundle/unpack.py": "some systems take two names of members as one, or for a device",
}
"""Files that may, each with its reason."""
COMPARING = {'replace("-", " ")', 'replace("_", " ")', "replace('-', ' ')", "replace('_', ' ')"}
FILES = sorted(p for p in PACKAGE.rglob("*.py") if p.parent.name != "vocabulary")


def name(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


FIELDS = {"lower", "upper", "title"}
"""Names that values of ours have for a field as well; of those only calls are looked at."""


def folds(source: str) -> list[str]:
    """Return the lines that fold text by a call, or hand a folding method on as a function."""
    tree = ast.parse(source)
    calls = {id(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr in FOLDING:
            of_str = isinstance(node.value, ast.Name) and node.value.id == "str"
            if id(node) in calls or of_str or node.attr not in FIELDS:
                found.append(f"line {node.lineno}: {ast.unparse(node)}")
        if isinstance(node, ast.ImportFrom) and node.module == "unicodedata":
            found.append(f"line {node.lineno}: {ast.unparse(node)}")
    return found


def test_only_the_vocabulary_folds_text() -> None:
    found = {name(path): folds(path.read_text(encoding="utf-8")) for path in FILES}
    idle = [file for file in MAY if not found.get(file)]
    assert not idle, f"{idle} fold nothing any more: take them off the list"
    wrong = {file: lines for file, lines in found.items() if lines and file not in MAY}
    assert not wrong, "use vocabulary.fold (or capitals, slugs)"


@pytest.mark.parametrize(
    "source",
    ["x.casefold()", "sorted(w, key=str.lower)", "pc.utf8_lower(a)", "np.char.upper(a)",
     "unicodedata.normalize('NFKC', x)", "f'{x.lower()}'",
     "from unicodedata import normalize"],
)  # fmt: skip
def test_the_check_sees_each_way_of_folding(source: str) -> None:
    assert folds(source)


def test_hyphens_are_blanks_for_comparison_in_one_place_only() -> None:
    """Codes of ours may be shown with spaces; a word of the records is never compared that way."""
    found = []
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Compare):
                told = ast.unparse(node)
                if any(c in told for c in COMPARING):
                    found.append(f"{name(path)} line {node.lineno}: {told}")
    assert not found
