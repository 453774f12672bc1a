"""A slip in a study file: the line as it stands, the place in it, and what was likely meant."""

from __future__ import annotations

import re

from fleetstats.study.slips.likely import likely_value

LINE_SHOWN = 100
"""Letters of a line that are shown; a longer one is cut around its place."""

_PAIR = re.compile(r"""^\s*([A-Za-z0-9_.-]+|"[^"]*"|'[^']*')\s*=\s*(.*?)\s*$""")
_HEADER = re.compile(r"^\s*(\[\[?)\s*([A-Za-z0-9_.\"' -]+?)\s*\]\]?\s*(?:#.*)?$")
_SLEEPING = re.compile(r"^\s*#\s*(\[\[?[A-Za-z0-9_.-]+\]\]?)\s*$")


def shown_line(text: str, line: int, column: int | None = None) -> str:
    """Return a line of the file and a mark under a place in it; empty where there is no such line.

    Parameters
    ----------
    text : str
        The study file.
    line, column : int
        Both count from 1; without a column there is no mark.
    """
    lines = text.split("\n")
    if not 1 <= line <= len(lines):
        return ""
    whole = "".join(c if c.isprintable() else " " for c in lines[line - 1].rstrip("\r"))
    first = max(0, (column or 1) - LINE_SHOWN // 2) if len(whole) > LINE_SHOWN else 0
    out = f"    {whole[first : first + LINE_SHOWN]}".rstrip()
    if column is None or not out.strip():
        return out if out.strip() else ""
    return f"{out}\n    {' ' * (column - 1 - first)}^"


def explain_slip(text: str, line: int) -> str:
    """Return what a line that is no TOML was likely meant to say; empty where that is not plain.

    Parameters
    ----------
    text : str
        The study file.
    line : int
        The line at which reading stopped, from 1.
    """
    lines = text.split("\n")
    if not 1 <= line <= len(lines):
        return ""
    if opened := _left_open(lines[:line]):
        return opened
    whole = lines[line - 1].rstrip("\r")
    pair = _PAIR.match(whole)
    if pair is None:
        return _no_pair(whole)
    name, said = pair[1], _without_comment(pair[2])
    if not said:
        return f"Nothing stands after '{name} ='. Give a value, or put # before the line."
    if re.search(r"[\u201c\u201d\u201e\u201f\u00ab\u00bb\u2018\u2019\u201a]", said):
        plain = re.sub(r"[\u201c\u201d\u201e\u201f\u00ab\u00bb]", '"', said)
        plain = re.sub(r"[\u2018\u2019\u201a]", '"', plain)
        return f"Use plain quotation marks: {name} = {plain}"
    if "\\" in said:
        whole_path = said.strip("\"'").replace("\\", "/")
        return (
            f'A path is written with /: {name} = "{whole_path}". It must lie within the '
            "study's folder."
        )
    if meant := likely_value(said):
        return f"Perhaps: {' or '.join(f'{name} = {m}' for m in meant.split(' or '))}"
    quotes = said.count('"')
    if said[0] == '"' and quotes % 2:
        return f'A quotation mark is missing: {name} = "{said.strip(chr(34))}"'
    if re.fullmatch(r"[^\"'\[\]{}=]+", said):
        return f'Perhaps: {name} = "{said}"; texts stand in quotation marks.'
    return ""


def _left_open(lines: list[str]) -> str:
    """Say which list or table in brackets does not end before another key or header begins."""
    for n, whole in enumerate(lines[:-1], start=1):
        pair = _PAIR.match(whole)
        said = _without_comment(pair[2]) if pair else ""
        if said[:1] not in ("[", "{"):
            continue
        last = {"[": "]", "{": "}"}[said[0]]
        if said.count(said[0]) > said.count(last) and (
            _HEADER.match(lines[n]) or _PAIR.match(lines[n])
        ):
            return f"A '{last}' is missing in line {n}: {whole.strip()}"
    return ""


def _no_pair(whole: str) -> str:
    bare = whole.strip()
    if bare.startswith("[") and not _HEADER.match(whole):
        name = bare.strip("[] ")
        return f"Perhaps: [{name}]" if re.fullmatch(r"[A-Za-z0-9_.-]+", name) else ""
    m = re.match(r"^([A-Za-z0-9_]+(?:\s+[A-Za-z0-9_]+)+)\s*=", bare)
    if m:
        return f'A name with blanks stands in quotation marks: "{m[1]}" = …'
    m = re.match(r"^([A-Za-z0-9_.-]+)\s*:\s*(.+)$", bare)
    if m:
        return f"Between a key and its value stands =, not a colon: {m[1]} = {m[2]}"
    if bare and not bare.startswith("["):
        return "A line is 'key = value', a [table], or begins with # where it is a remark."
    return ""


def _without_comment(said: str) -> str:
    """Return a value without the remark after it; a # within quotation marks is none."""
    quoted = ""
    for i, c in enumerate(said):
        if quoted:
            quoted = "" if c == quoted else quoted
        elif c in "\"'":
            quoted = c
        elif c == "#":
            return said[:i].rstrip()
    return said


def line_of(text: str, path: str) -> int | None:
    """Return the line of a key of the study file, from 1; None where it cannot be told.

    Parameters
    ----------
    text : str
        The study file, as TOML accepts it.
    path : str
        As problems name a key: ``question.level``, ``records[2].file``, or a table's name.
    """
    at, seen = "", {}  # type: str, dict[str, int]
    for n, whole in enumerate(text.split("\n"), start=1):
        if m := _HEADER.match(whole):
            at = m[2].replace('"', "").replace("'", "").replace(" ", "")
            if m[1] == "[[":
                seen[at] = seen.get(at, 0) + 1
            root, dot, rest = at.partition(".")
            if root in seen:
                at = f"{root}[{seen[root]}]{dot}{rest}"
            if at == path:
                return n
        elif (m := _PAIR.match(whole)) and f"{at}.{m[1].strip(chr(34) + chr(39))}" == path:
            return n
    return None


def sleeping_header(text: str, line: int) -> str:
    """Return a table's header above a line that is still a remark, as it would be written.

    A template shows tables as remarks; whoever wakes the lines below and forgets the header puts
    them into the table before.
    """
    lines = text.split("\n")
    for whole in reversed(lines[: line - 1]):
        if m := _SLEEPING.match(whole):
            return m[1]
        if _HEADER.match(whole):
            return ""
    return ""


def place_problem(text: str, problem: str) -> str:
    """Return a problem with the line at which it stands, and with what is likely behind it."""
    path = re.match(r"[^\s:=]+", problem)
    line = None if path is None else line_of(text, path[0])
    if line is None:
        return problem
    asleep = sleeping_header(text, line) if "unknown key" in problem else ""
    if asleep:
        problem += f" The header {asleep} above it is still a remark: take its # away."
    return f"line {line}: {problem}"
