"""Change single settings of a study file and leave every other line as its author wrote it.

A study file is read by people: its comments, its order and its blank lines are theirs. So an edit
touches the lines of one key alone. What it made is parsed again, and must hold what the old text
held with that one change and nothing else; otherwise the edit is refused.

A path names a key as messages about the study file do, files counted from 1:
``("study", "seed")``, ``("records", 2, "endings", "bust")``.
"""

from __future__ import annotations

import copy
import re
import tomllib
from dataclasses import dataclass, field
from typing import Any

from fleetstats.core.errors import SettingError
from fleetstats.study.scaffold import toml_text

Path = tuple[str | int, ...]
"""Names of tables and keys, and the numbers of files."""

_PART = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\]|\\.)*"|'[^']*')"""
_KEY = re.compile(rf"\s*({_PART}(?:\s*\.\s*{_PART})*)\s*=")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
RECORDS = "records"
MOST_LINES = 5_000
"""Lines of a study file that are edited; longer ones are for an editor of texts."""


@dataclass(slots=True)
class _Statement:
    """One `key = value`: its whole path, and its lines from `first` up to `last`, not counted."""

    path: Path
    first: int
    last: int


@dataclass(slots=True)
class _Section:
    """What stands below one header; the part above all headers has no name and no line."""

    path: Path
    line: int
    statements: list[_Statement] = field(default_factory=list)

    @property
    def end(self) -> int:
        """Return the line after the last that says something."""
        return self.statements[-1].last if self.statements else self.line + 1


def set_key(text: str, path: Path, value: Any, *, comment: str = "") -> str:
    r"""Return a study file's text with one key set.

    Parameters
    ----------
    text : str
        The file, which must be TOML.
    path : tuple of str and int
        Where the key stands; a table that is not there is added. Files are counted from 1.
    value : object
        A text, number, truth, date, or list of them.
    comment : str
        Why, written behind the value; what stood there stays where none is given.

    Raises
    ------
    SettingError
        If the text is no TOML, the file of `path` is not there, or the place cannot be edited.

    Examples
    --------
    >>> from fleetstats.study.edit import set_key
    >>> print(set_key("[study]  # ours\nseed = 1  # any\n", ("study", "seed"), 2), end="")
    [study]  # ours
    seed = 2  # any
    """
    raw = _parse(text)
    want = copy.deepcopy(raw)
    _at(want, path)[str(path[-1])] = list(value) if isinstance(value, tuple) else value
    mark, lines = _lines_of(text)
    _set(lines, raw, path, value, " ".join(comment.split()))
    return _checked(mark + "\n".join(lines), want, path)


def unset_key(text: str, path: Path) -> str:
    """Return a study file's text without one key; the text itself where the key is not set.

    Raises
    ------
    SettingError
        As `set_key`.
    """
    raw = _parse(text)
    want = copy.deepcopy(raw)
    table = _at(want, path)
    if path[-1] not in table:
        return text
    del table[str(path[-1])]
    mark, lines = _lines_of(text)
    found, inner = _find(_sections(lines), path)
    if found is None:
        raise _refused(path)
    if inner:
        held = _at(want, path)
        lines[found.first : found.last] = [_line(lines, found, held, "")]
    else:
        del lines[found.first : found.last]
    return _checked(mark + "\n".join(lines), want, path, emptied=True)


def add_file(text: str, keys: dict[str, Any]) -> str:
    """Return a study file's text with one more ``[[records]]`` at its end.

    Raises
    ------
    SettingError
        If the text is no TOML, or writes its files where no table can be added.
    """
    want = _parse(text)
    files = want.setdefault(RECORDS, [])
    if not isinstance(files, list):
        raise _refused((RECORDS,))
    files.append(keys)
    mark = "\r" if "\r\n" in text else ""
    body = [f"[[{RECORDS}]]", *(f"{_name(k)} = {toml_text(v)}" for k, v in keys.items())]
    joint = "" if not text or text.endswith("\n") else f"{mark}\n"
    gap = f"{mark}\n" if text.strip() else ""
    added = "".join(f"{line}{mark}\n" for line in body)
    return _checked(f"{text}{joint}{gap}{added}", want, (RECORDS,))


def copy_file(text: str, number: int) -> str:
    """Return a study file's text with one ``[[records]]`` once more at its end, remarks and all.

    Raises
    ------
    SettingError
        As `remove_file`.
    """
    want = _parse(text)
    _at(want, (RECORDS, number, "file"))
    want[RECORDS].append(copy.deepcopy(want[RECORDS][number - 1]))
    _, lines = _lines_of(text)
    mark = "\r" if "\r\n" in text else ""
    body: list[str] = []
    for s in _sections(lines):
        if s.path[:2] == (RECORDS, number):
            end = s.end
            while end < len(lines) and lines[end].lstrip().startswith("#"):
                end += 1
            body += [*([""] if body else []), *lines[s.line : end]]
    if not body:
        raise _refused((RECORDS, number))
    whole = "\n".join(x.removesuffix("\r") + mark for x in ["", *body, ""]).removesuffix("\r")
    joint = "" if text.endswith("\n") else f"{mark}\n"
    return _checked(text + joint + whole, want, (RECORDS, number))


def remove_file(text: str, number: int) -> str:
    """Return a study file's text without one ``[[records]]``, files counted from 1.

    Raises
    ------
    SettingError
        If the text is no TOML, there is no such file, or its files are not written as tables.
    """
    raw = _parse(text)
    want = copy.deepcopy(raw)
    _at(want, (RECORDS, number, "file"))
    del want[RECORDS][number - 1]
    mark, lines = _lines_of(text)
    mine = [s for s in _sections(lines) if s.path[:2] == (RECORDS, number)]
    if not mine:
        raise _refused((RECORDS, number))
    end = max(s.end for s in mine)
    while end < len(lines) and lines[end].lstrip().startswith("#"):
        end += 1
    while end < len(lines) - 1 and not lines[end].strip():  # the last is the end of the text
        end += 1
    del lines[mine[0].line : end]
    return _checked(mark + "\n".join(lines), want, (RECORDS, number), emptied=True)


def _lines_of(text: str) -> tuple[str, list[str]]:
    """Return the mark of UTF-8 before a text, blank where there is none, and its lines."""
    bare = text.removeprefix("\ufeff")
    return text[: len(text) - len(bare)], bare.split("\n")


def _set(lines: list[str], raw: dict[str, Any], path: Path, value: Any, comment: str) -> None:
    sections = _sections(lines)
    found, inner = _find(sections, path)
    if found is not None:
        if inner:
            held = dict(_at(copy.deepcopy(raw), path))
            value = held | {str(path[-1]): value}
        lines[found.first : found.last] = [_line(lines, found, value, comment)]
        return
    mark = "\r" if any(x.endswith("\r") for x in lines) else ""
    why = f"  # {comment}" if comment else ""
    new = f"{_name(str(path[-1]))} = {toml_text(value)}{why}{mark}"
    home = next((s for s in reversed(sections) if s.path == path[:-1]), None)
    if home is not None:
        lines.insert(_below_its_comment(lines, sections, home, str(path[-1])), new)
        return
    head = ".".join(_name(p) for p in path[:-1] if isinstance(p, str))
    kin = [s for s in sections if s.path[: _owner(path)] == path[: _owner(path)]]
    others = [s for s in sections if s.path[:1] != (RECORDS,)]
    at = max(s.end for s in (kin or others or sections))
    while at < len(lines) and lines[at].lstrip().startswith("#"):  # a remark stays in its table
        at += 1
    gap = [mark] if at > 0 else []
    lines[at:at] = [*gap, f"[{head}]{mark}", new]
    if at + len(gap) + 2 < len(lines) and lines[at + len(gap) + 2].strip().startswith("["):
        lines.insert(at + len(gap) + 2, mark)


def _owner(path: Path) -> int:
    """Return how many names of a path say whose table it is: of one file, or of the study."""
    return 2 if path[0] == RECORDS else len(path)


def _below_its_comment(
    lines: list[str], sections: list[_Section], home: _Section, name: str
) -> int:
    """Return where a new key goes: below the comment that shows its default, else last."""
    after = [s.line for s in sections if s.line > home.line]
    end = min(after, default=len(lines))
    shown = re.compile(rf"\s*#\s*{re.escape(_name(name))}\s*=")
    for i in range(home.line + 1, end):
        if shown.match(lines[i]):
            return i + 1
    return home.end


def _line(lines: list[str], found: _Statement, value: Any, comment: str) -> str:
    """Return a statement with another value, and the remark that stood behind the old one."""
    own = lines[found.first : found.last]
    told = _KEY.match(own[0])
    last = own[-1].removesuffix("\r")
    mark = own[-1][len(last) :]
    tail = f"  # {comment}" if comment else _remark([*own[:-1], last])
    return f"{'' if told is None else told[0]} {toml_text(value)}{tail}{mark}"


def _remark(own: list[str]) -> str:
    """Return the comment behind a statement, with the blanks before it."""
    last, whole = own[-1], tomllib.loads("\n".join(own))
    for at in (i for i, c in enumerate(last) if c == "#"):
        try:
            same = tomllib.loads("\n".join([*own[:-1], last[:at]])) == whole
        except tomllib.TOMLDecodeError:
            continue
        if same:
            return last[len(last[:at].rstrip()) :]
    return ""


def _sections(lines: list[str]) -> list[_Section]:
    """Take a text apart into headers and statements, each with its lines."""
    if len(lines) > MOST_LINES:
        raise SettingError(
            f"The study file has {len(lines):,} lines.", "Edit one so long as a text."
        )
    out = [_Section(path=(), line=-1)]
    n_files, i = 0, 0
    while i < len(lines):
        line = lines[i].strip()
        if not line or line.startswith("#"):
            i += 1
        elif line.startswith("["):
            names = _nested(tomllib.loads(line))
            if line.startswith("[["):
                n_files += names == (RECORDS,)
            if names[0] == RECORDS and n_files:
                names = (RECORDS, n_files, *names[1:])
            out.append(_Section(path=names, line=i))
            i += 1
        else:
            end = _end_of(lines, i)
            told = _KEY.match(lines[i])
            names = () if told is None else _nested(tomllib.loads(f"{told[0]} 0"))
            out[-1].statements.append(_Statement((*out[-1].path, *names), i, end))
            i = end
    return out


def _end_of(lines: list[str], first: int) -> int:
    """Return the line after a statement; one may go over several."""
    for end in range(first + 1, len(lines) + 1):
        try:
            tomllib.loads("\n".join(lines[first:end]) + "\n")
        except tomllib.TOMLDecodeError:
            continue
        return end
    raise SettingError(f"Line {first + 1} of the study file has no end.", "Edit it as a text.")


def _nested(parsed: dict[str, Any]) -> Path:
    """Return the names that lead down to the one thing that a parsed line holds."""
    names: list[str] = []
    held: Any = parsed
    while isinstance(held, dict | list) and held:
        if isinstance(held, list):
            held = held[0]
            continue
        name = next(iter(held))
        names.append(name)
        held = held[name]
    return tuple(names)


def _find(sections: list[_Section], path: Path) -> tuple[_Statement | None, bool]:
    """Return the statement of a key, and whether the key stands within its braces."""
    told = [x for s in sections for x in s.statements]
    for x in told:
        if x.path == path:
            return x, False
    return next((x for x in told if x.path == path[:-1]), None), True


def _at(raw: dict[str, Any], path: Path) -> dict[str, Any]:
    """Return the table that holds a path's key, made where it is not there."""
    held: Any = raw
    for name in path[:-1]:
        if isinstance(name, int):
            if not isinstance(held, list) or not 1 <= name <= len(held):
                raise SettingError(f"The study names no file number {name}.", "Read it again.")
            held = held[name - 1]
        elif isinstance(held, dict):
            held = held.setdefault(name, {})
    if not isinstance(held, dict):
        raise _refused(path)
    return held


def _parse(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError as e:
        raise SettingError(f"The study file cannot be read ({e}).", "Mend that line first.") from e


def _checked(text: str, want: dict[str, Any], path: Path, *, emptied: bool = False) -> str:
    """Return an edited text, if it holds what it should and nothing else."""
    try:
        got = tomllib.loads(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError:
        raise _refused(path) from None
    if (_without_empty(got) != _without_empty(want)) if emptied else (got != want):
        raise _refused(path)
    return text


def _without_empty(held: Any) -> Any:
    """Return tables without those that hold nothing: a header may stay or go with its last key."""
    if isinstance(held, dict):
        kept = {k: _without_empty(v) for k, v in held.items()}
        return {k: v for k, v in kept.items() if v != {}}
    return [_without_empty(x) for x in held] if isinstance(held, list) else held


def _refused(path: Path) -> SettingError:
    return SettingError(
        f"{'.'.join(str(p) for p in path)} stands where it cannot be changed line by line.",
        "Change it in study.toml with an editor of texts.",
    )


def _name(name: str) -> str:
    return name if _BARE.fullmatch(name) else toml_text(name)
