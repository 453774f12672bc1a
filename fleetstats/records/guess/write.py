"""A guessed study laid out: the files copied, and a study file in which each guess says why."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from fleetstats.core.errors import SettingError
from fleetstats.core.files import write_whole
from fleetstats.records.guess.guess import Guess, GuessedSheet, GuessedStudy
from fleetstats.records.guess.repairs import ask_repairs
from fleetstats.records.guess.study import guess_study
from fleetstats.study.scaffold import setting_lines, toml_text
from fleetstats.study.settings import Settings
from fleetstats.study.study import STUDY_FILE
from fleetstats.tables.cells import text

OPEN_MARK: Final = "# OPEN:"
"""What a line to fill in carries; a text search finds them all."""

LONGEST_REMARK: Final = 260
LONGEST_KEY: Final = 200
"""Longest word that gets a line of its own, in characters; longer ones are prose."""

ADDED: Final = "# Guessed as the files were added; each guess says why and how sure it is."

STOPPING: Final = ("merge.returns",)
"""Settings whose default could hide a failure: left open, they stand as no value, and it stops."""

OPEN_SIGN: Final = "…"
"""What stands in place of a value that is open where nothing may go on without it."""

FLAGS: Final = {"true": True, "false": False}

FIRST_TABLES = ("study", "hours")
"""Tables of settings that stand above the record files, since guesses concern them."""

_HEAD = (
    "# A study begun from raw files. What they mean was guessed; each guess says why and how sure",
    "# it is: a guess that is sure or likely is used as it stands, so look at the likely ones.",
    "# A line marked OPEN is not used until you fill it in: put one of the words named in place of",
    "# the dots and take away the first #. Until then its rows are not read, or the study stops.",
)


def begin_from_files(
    folder: str | Path, files: Sequence[str | Path], *, today: dt.date | None = None
) -> GuessedStudy:
    """Lay out a new study from raw files: copies of them, and a study file of guesses.

    Parameters
    ----------
    folder : str or Path
        Made where it is not there. Nothing in it is overwritten; a file that lies in it already
        stays where it is.
    files : sequence of str or Path
        CSV, XLSX or Parquet.
    today : date, optional
        As of `guess_study`.

    Returns
    -------
    GuessedStudy

    Raises
    ------
    SettingError
        If a file cannot be read, no sheet holds records, a file is there already, or the folder
        cannot be written to. Nothing is then left behind.
    """
    root = Path(folder)
    if root.is_file():
        raise SettingError(
            f"'{root}' is a file, and no folder for a study.",
            "Name the new folder first: fleetstats begin FOLDER --from FILE …",
        )
    guessed = guess_study(files, today=today)
    copies = {root / n: p for n, p in guessed.paths.items() if not _same(root / n, p)}
    there = [p for p in (root / STUDY_FILE, *copies) if p.exists() or p.is_symlink()]
    if there:
        raise SettingError(
            f"'{there[0]}' is there already; nothing was written.",
            "Name a new folder, or move the file away.",
        )
    title = re.sub(r"[^\w\- ]+", "", root.resolve().name, flags=re.ASCII).strip() or "Our fleet"
    written: list[Path] = []
    try:
        root.mkdir(parents=True, exist_ok=True)
        for target, path in copies.items():
            write_whole(target, path.read_bytes(), replace=False)
            written.append(target)
        write_whole(root / STUDY_FILE, study_text(guessed, title=title), replace=False)
        asked = ask_repairs(guessed, root)
        if asked is not guessed:
            guessed = asked
            write_whole(root / STUDY_FILE, study_text(guessed, title=title), replace=True)
    except BaseException as e:  # also on Ctrl-C: half a study would be in the way of the next
        for target in written:
            target.unlink(missing_ok=True)
        if not isinstance(e, OSError):
            raise
        raise SettingError(
            f"The study cannot be laid out in '{root}' ({e.strerror or type(e).__name__}).",
            "Name a folder that you may write to.",
        ) from None
    return guessed


def _same(target: Path, path: Path) -> bool:
    return target.exists() and target.samefile(path)


def study_text(guessed: GuessedStudy, *, title: str = "Our fleet") -> str:
    """Return the study file of a guessed study.

    Parameters
    ----------
    guessed : GuessedStudy
        What was guessed.
    title : str
        Title of the study.
    """
    given: dict[str, Any] = {"study.title": title}
    notes, left = {"study.title": "# from the name of the folder"}, {}
    for g in guessed.settings:
        if g.stands and not g.known:
            given[g.what] = _typed(g.value)
            notes[g.what] = remark_of(g)
        elif not g.stands and g.what in STOPPING:
            given[g.what], notes[g.what] = OPEN_SIGN, remark_of(g)
        elif not g.stands:
            left[g.what] = remark_of(g)
    out = [*_HEAD, "#", *(f"# {_plain(x)}" for x in guessed.lines), ""]
    for table in FIRST_TABLES:
        out += setting_lines(table, given, notes, left)
    for sheet in guessed.sheets:
        out += [*sheet_lines(sheet), ""]
    out += ["# Every other setting, with its default.", ""]
    treat = [g for s in guessed.sheets for g in s.treat]
    for f in fields(Settings):
        if f.name not in FIRST_TABLES:
            lines = setting_lines(f.name, given, notes, left)
            if f.name == "treat" and treat:
                at = lines.index("[treat]") + 1
                lines[at:at] = _treat(treat)
            out += lines
    return "\n".join(out)


def _typed(value: str) -> Any:
    if value in FLAGS:
        return FLAGS[value]
    return dt.date.fromisoformat(value) if re.fullmatch(r"\d{4}-\d\d-\d\d", value) else value


def _plain(shown: str) -> str:
    """Return a text that may come from a file as one safe line of a comment."""
    out = text(shown)
    return out if len(out) <= LONGEST_REMARK else f"{out[:LONGEST_REMARK]} …"


def remark_of(g: Guess) -> str:
    """Return what stands beside a guess: how sure, why, what it does; the choices if it is open."""
    rows = ", ".join(str(r) for r in g.rows)
    more = f" and {g.n_rows - len(g.rows)} more" if g.n_rows > len(g.rows) else ""
    where = f" (row{'s' if g.n_rows > 1 else ''} {rows}{more})" if rows else ""
    said = _plain(g.reason).rstrip(".")
    reason = f"{said}{where}{'' if said.endswith('?') and not where else '.'}"
    if g.stands:
        effect = f" {_plain(g.effect)}." if g.effect else ""
        return f"# {g.sure}: {reason}{effect}"
    may = ", ".join(a if a in FLAGS else toml_text(_plain(a)) for a in g.alternatives)
    choices = f" One of {may}." if len(g.alternatives) > 1 else f" Perhaps {may}." if may else ""
    effect = f" Until then: {_plain(g.effect)}." if g.effect else ""
    return f"{OPEN_MARK} {reason}{choices}{effect}"


def _line(key: str, g: Guess) -> str:
    """Return the line of one guess: stated, as a remark where the reader knows, or left open."""
    if len(key) > LONGEST_KEY:
        return f"{OPEN_MARK} {_plain(key)}: a long text where a word belongs. {remark_of(g)[2:]}"
    if not g.stands:
        return f'# {key} = "…"    {remark_of(g)}'
    line = f"{key} = {toml_text(g.value)}    {remark_of(g)}"
    return f"# {line} It is read so without a line." if g.known else line


def add_sheets(text: str, guessed: GuessedStudy) -> str:
    """Return the text of a study file with the sheets of more files at its end."""
    added = [ADDED]
    for sheet in guessed.sheets:
        added += [*sheet_lines(sheet), ""]
    joint = "" if not text or text.endswith("\n") else "\n"
    whole = f"{joint}\n" + "\n".join(added)
    return text + (whole.replace("\n", "\r\n") if "\r\n" in text else whole)


def sheet_lines(s: GuessedSheet) -> Iterator[str]:
    """Yield the lines of a study file on one sheet, each guess with its reason."""
    yield "[[records]]"
    yield f"file = {toml_text(s.file)}"
    if s.sheet:
        yield f"sheet = {toml_text(s.sheet)}"
    row = f"header_row = {s.header_row}    # {_plain(s.header_reason)}"
    yield row if s.header_stated else f"# {row}; the first line with content"
    if s.shape.stands:
        yield _line("shape", s.shape)
    else:
        yield f'shape = "…"    {remark_of(s.shape)}'
    for g in s.settings:
        yield _line(g.what, g)
    yield ""
    yield "[records.columns]"
    for g in s.columns:
        yield _line(g.what, g)
    for g in s.unused:
        mark = "# Not used" if g.stands else f"{OPEN_MARK} not used"
        yield f"{mark}: {toml_text(_plain(g.what))}, {_plain(g.reason)}{_samples(g)}."
    for name, told in (
        ("endings", s.endings),
        ("kinds", s.kinds),
        ("causes", s.causes),
        ("renews", s.renews),
    ):
        if told:
            yield ""
            yield f"[records.{name}]"
            for g in told:
                yield _line(toml_text(g.what), g)


def _samples(g: Guess) -> str:
    return f" ({', '.join(toml_text(_plain(x)) for x in g.samples)})" if g.samples else ""


def _treat(guesses: Sequence[Guess]) -> list[str]:
    """Return the lines left open under [treat], one for each finding, whatever sheets have it."""
    by_code: dict[str, list[str]] = {}
    for g in guesses:
        by_code.setdefault(g.what, []).append(remark_of(g))
    return [f'# {code} = "…"    {told[0]}' for code, told in by_code.items()]
