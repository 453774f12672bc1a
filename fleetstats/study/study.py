"""A study: a folder with a `study.toml` and its record files."""

from __future__ import annotations

import hashlib
import re
import tomllib
import typing
from dataclasses import fields, replace
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Any

from fleetstats.core.doors.plain_files import kind_of_path, read_plain
from fleetstats.core.doors.toml_text import load_toml
from fleetstats.core.errors import SettingError
from fleetstats.core.gate import FLAG, PATH, an, gate
from fleetstats.core.limits import most
from fleetstats.core.provenance import SourceFile
from fleetstats.core.value import Value, value
from fleetstats.study.assumptions import assumptions
from fleetstats.study.files.drawn import (
    check_elsewhere,
    drawn_files,
    drawn_folder,
    lies_elsewhere,
    told_from,
)
from fleetstats.study.files.patterns import is_pattern, matching
from fleetstats.study.record_settings import RecordKeys
from fleetstats.study.schema import FLAT_TABLES, load_keys, show
from fleetstats.study.settings import Settings
from fleetstats.study.slips.lines import explain_slip, place_problem, shown_line
from fleetstats.study.study_checks import check_settings
from fleetstats.vocabulary.capitals import small
from fleetstats.vocabulary.nearest import did_you_mean
from fleetstats.vocabulary.slugs import slug

if TYPE_CHECKING:
    import pandas as pd

STUDY_FILE = "study.toml"
MAX_FILES = most("study_files")
MENDS_FILE = "mends.csv"
"""What was decided about odd cells; applied as the record files are read."""


@value
class RecordFile(RecordKeys, Value):
    """One record file of a study; `path` is where it lies, `file` its name within the study.

    `pattern` is how the study file names it together with others, all of one table; blank where it
    names it alone. `origin` is the URL or the database that it is a copy from, blank if from none.
    `number` is which [[records]] of the study file it comes from, from 1; 0 where from none.
    """

    path: Path = Path()
    pattern: str = ""
    origin: str = ""
    number: int = 0

    _not_in_dict = ("path", "pattern", "origin", "number")

    @property
    def named(self) -> str:
        """Return how the study file names it."""
        return self.pattern or self.file

    @property
    def asked(self) -> str:
        """Return what the study file asks for: a URL, a query in words, a pattern or a file."""
        return self.origin or self.named


@value
class Study(Value):
    """What is asked of which records.

    Parameters
    ----------
    folder : Path
        Folder of the study; no path of the study leaves it.
    settings : Settings
        Every setting, the user's or the default.
    files : tuple of RecordFile
        The record files.
    chosen : frozenset of str
        The settings that the user set, as ``table.key``.
    source : SourceFile or None
        The study file itself, where it was read from one.
    """

    folder: Path
    settings: Settings
    files: tuple[RecordFile, ...]
    chosen: frozenset[str]
    source: SourceFile | None = None

    _not_in_dict = ("folder", "source")

    @property
    def name(self) -> str:
        """Return a short name for the study's report folder."""
        return slug(self.folder.resolve().name) or "study"

    def of_shape(self, *shapes: str) -> tuple[RecordFile, ...]:
        """Return the record files of some shapes."""
        return tuple(f for f in self.files if f.shape in shapes)

    def of_number(self, number: int) -> RecordFile:
        """Return the first file that a [[records]] of the study file, counted from 1, means."""
        return next(f for f in self.files if f.number == number)

    def to_frame(self) -> pd.DataFrame:
        """Return every setting, one row each: key, value, default, whether it was chosen, unit."""
        import pandas as pd

        told = assumptions(self.settings, self.chosen)
        names = ("key", "value", "default", "chosen", "unit")
        return pd.DataFrame([{n: getattr(a, n) for n in names} for a in told])

    def __repr__(self) -> str:
        s = self.settings.study
        return f"Study '{s.title}', as of {s.analysis_date}: {len(self.files)} record files"


STUDY = an(Study, "Read one by fs.read_study(folder).")


@gate(folder_or_file=PATH, drawn=FLAG)
def read_study(folder_or_file: str | Path, *, drawn: bool = True) -> Study:
    """Read a study file strictly.

    Parameters
    ----------
    folder_or_file : str or Path
        The study's folder, or the `study.toml` in it.
    drawn : bool
        Whether its records are drawn already: False does not ask for the files to be there.

    Returns
    -------
    Study

    Raises
    ------
    SettingError
        If the file is missing or no TOML (with the line), or if any key is unknown, any value
        impossible, or any path wrong. All are told at once, each with the key's path, the value,
        what is right and the nearest valid name; `problems` holds them one by one.

    Examples
    --------
    >>> import fleetstats as fs
    >>> study = fs.read_study("datasets/quiet-fleet")
    >>> study.settings.study.title, study.settings.study.claimed_interval_h
    ("Ostrel T4, builder's fleet: none failed; what may be claimed?", 1200.0)
    """
    path = Path(folder_or_file)
    if path.is_dir():
        path = path / STUDY_FILE
    raw, source, text = _read_toml(path)
    study = parse_study(raw, path.parent, drawn=drawn)
    if isinstance(study, Study):
        return replace(study, source=source)
    n = len(study)
    raise SettingError(
        f"{path.name}: {n} thing{'s' if n > 1 else ''} to correct.\n"
        + "\n".join(f"  {place_problem(text, p)}" for p in study),
        problems=tuple(study),
    )


def read_record_keys(folder: Path) -> tuple[RecordKeys, ...]:
    """Return how a study names its record files, whether they are there or not.

    Raises
    ------
    SettingError
        As `read_study`, but for files that are not there.
    """
    path = folder / STUDY_FILE
    read_study(path, drawn=False)
    raw = _read_toml(path)[0]["records"]
    return tuple(load_keys(RecordKeys, part, "records", [])[0] for part in raw)


def _read_toml(path: Path) -> tuple[dict[str, Any], SourceFile, str]:
    """Return the tables of a study file, the file with its digest (it has no rows), its text."""
    try:
        there = path.exists()
        data = read_plain(path, "study_bytes") if there else None
    except OSError as e:
        raise SettingError(
            f"The study file '{path.name}' cannot be read ({e.strerror}).",
            "It is a text of some kB that may be read; records belong in files of their own.",
        ) from None
    except ValueError:
        raise SettingError("The study's path holds a character that no path can have.") from None
    if data is None:
        raise SettingError(
            f"There is no study file at '{path}'.",
            f"A study is a folder with a {STUDY_FILE}; 'fleetstats begin' makes one.",
        )
    try:
        text = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8")
        told = load_toml(text)
    except UnicodeDecodeError as e:
        line = data[: e.start].count(b"\n") + 1
        raise SettingError(
            f"{path.name} line {line}: the text is not UTF-8.", "Save the file as UTF-8."
        ) from None
    except tomllib.TOMLDecodeError as e:
        raise _no_toml(path.name, text, str(e)) from None
    except ValueError as e:  # a limit was passed
        raise SettingError(f"{path.name}: {e}.") from None
    digest = hashlib.sha256(data).hexdigest()
    return told, SourceFile(name=path.name, size_bytes=len(data), sha256=digest, rows=0), text


def _no_toml(name: str, text: str, said: str) -> SettingError:
    """Return the error for a text that is no TOML: its line, the place, what was likely meant."""
    m = re.search(r"\(at (?:line (\d+), column (\d+)|end of document)\)", said)
    line, column = (int(m[1]), int(m[2])) if m and m[1] else (text.count("\n") + 1, None)
    if column is None and not text.rstrip("\n").endswith("\n"):
        line = text.rstrip().count("\n") + 1
    what = small(re.sub(r"\s*\(at .*\)$", "", said))
    shown = shown_line(text, line, column)
    cure = explain_slip(text, line) or (
        'Texts stand in quotation marks, as title = "Our fleet"; tables in [brackets].'
    )
    return SettingError(
        f"{name} line {line}: {what}.{f'{chr(10)}{shown}{chr(10)}' if shown else ''}", cure
    )


def parse_study(raw: dict[str, Any], folder: Path, *, drawn: bool = True) -> Study | list[str]:
    """Build a study from parsed tables, or return everything that is wrong with them."""
    problems: list[str] = []
    tables = {f.name: f for f in fields(Settings)}
    hints = typing.get_type_hints(Settings)
    chosen: set[str] = set()
    built: dict[str, Any] = {}
    for name in raw:
        if name not in tables and name != "records":
            near = did_you_mean(name, [*tables, "records"])
            problems.append(f"{name}: unknown table. {near}")
    for name in tables:
        part = raw.get(name, {})
        if name in FLAT_TABLES and isinstance(part, dict):
            part = {FLAT_TABLES[name]: part} if part else {}
        built[name], keys = load_keys(hints[name], part, name, problems)
        chosen |= {f"{name}.{k}" for k in keys}
    files = _load_files(raw.get("records"), folder, problems, drawn)
    settings = Settings(**built)
    check_settings(settings, files, problems)
    if settings.fleet.serials_file:
        _inside(settings.fleet.serials_file, folder, "fleet.serials_file", problems)
    if problems:
        return problems
    return Study(folder=folder, settings=settings, files=tuple(files), chosen=frozenset(chosen))


def _load_files(raw: Any, folder: Path, problems: list[str], drawn: bool) -> list[RecordFile]:
    if raw is None:
        problems.append("records: is missing. Name each record file in a table [[records]].")
        return []
    if isinstance(raw, dict):
        problems.append("records: write [[records]] with two brackets, once for each file.")
        return []
    if not isinstance(raw, list) or not raw or len(raw) > MAX_FILES:
        problems.append(
            f"records = {show(raw)}: must be tables [[records]], at least one and at most "
            f"{MAX_FILES}."
        )
        return []
    out: list[RecordFile] = []
    seen: dict[tuple[Path, str], int] = {}
    for i, part in enumerate(raw, start=1):
        where = f"records[{i}]"
        keys, _ = load_keys(RecordKeys, part, where, problems)
        pattern = keys.file if is_pattern(keys.file) else ""
        names, origin = [keys.file] if keys.file else [], ""
        if lies_elsewhere(keys):
            pattern, origin = f"{drawn_folder(keys)}/" if pattern else "", told_from(keys)
            wrong = len(problems)
            check_elsewhere(keys, where, problems)
            due = drawn and len(problems) == wrong
            names = drawn_files(keys, folder, where, problems) if due else []
        elif pattern:
            names = matching(pattern, folder, f"{where}.file", problems) if drawn else []
        for name in names:
            path = _inside(name, folder, f"{where}.file", problems, due=drawn)
            if path is None:
                continue
            twin = seen.setdefault((path, keys.sheet), i)
            if twin != i:
                problems.append(
                    f"{where}.file = {show(keys.file)}: "
                    + (f"means {show(name)}, which " if pattern else "")
                    + f"is named by records[{twin}] as well. Its rows would count twice."
                )
            values = {f.name: getattr(keys, f.name) for f in fields(keys)} | {"file": name}
            out.append(RecordFile(**values, path=path, pattern=pattern, origin=origin, number=i))
    return out


def _inside(
    name: str, folder: Path, where: str, problems: list[str], *, due: bool = True
) -> Path | None:
    """Return the path of a file of the study, if it lies within the folder and is there if due."""
    parts = PurePosixPath(name.replace("\\", "/")).parts
    absolute = PurePosixPath(name).is_absolute() or PureWindowsPath(name).drive
    root = folder.resolve()
    if absolute or ".." in parts or name.startswith(("~", "\\")):
        problems.append(
            f"{where} = {show(name)}: must be a path within the study's folder, without '..'."
        )
        return None
    path = root.joinpath(*parts)
    try:
        real = path.resolve()
        there = real.exists()
        there = there and real != root  # the study's folder is none of its files
        kind = kind_of_path(real) if there else ""
    except (OSError, ValueError, RuntimeError):
        problems.append(f"{where} = {show(name)}: is no usable path.")
        return None
    if not real.is_relative_to(root):
        problems.append(f"{where} = {show(name)}: leads out of the study's folder.")
        return None
    if due and not there:
        names = sorted(p.name for p in real.parent.glob("*") if p.is_file())[:200]
        near = did_you_mean(path.name, names) if names else "The folder holds no file."
        problems.append(f"{where} = {show(name)}: is not there. {near[:300]}")
        return None
    if due and kind:
        cure = "Copy its contents into a file and name that."
        cure = "A slash at its end means every file in it." if real.is_dir() else cure
        problems.append(f"{where} = {show(name)}: is {kind}, no regular file. {cure}")
        return None
    return path
