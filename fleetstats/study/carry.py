"""Next year's study begun from last year's: its study file word for word, but for the dates.

Comments, maps, rules, treatments and decisions stay as they stand. The date of analysis is left
out, so that no study of new records runs under an old date, and no record file is copied.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fleetstats.core.errors import SettingError
from fleetstats.core.files import write_whole
from fleetstats.core.value import Value, value
from fleetstats.study.declared import DECLARED_FILE, read_declared
from fleetstats.study.history import HISTORY_FILE, copy_history, read_history
from fleetstats.study.leaves import MAPS
from fleetstats.study.study import STUDY_FILE, RecordFile, Study, read_study
from fleetstats.vocabulary.wording import count, listed

LEFT = (("study", "analysis_date"), ("forecast", "backtest_date"))
"""Dates that belong to last year's records, by table and key."""

FIRST_LINE = "# Begun from the study "
LAST_LINE = "# (End of what was carried. Below stands the earlier study file, its dates left out.)"
MAP_WORDS = {"columns": "column name", "endings": "word for an ending", "kinds": "kind of event",
             "causes": "word for a cause", "renews": "repair"}  # fmt: skip


@value
class CarriedStudy(Value):
    """What a new study took over from an earlier one.

    Parameters
    ----------
    carried : tuple of str
        What was carried.
    left : tuple of str
        What is left to the user, each with what to do.
    n_looks : int
        Earlier looks that were carried with the ledger.
    """

    carried: tuple[str, ...]
    left: tuple[str, ...]
    n_looks: int = 0

    @property
    def lines(self) -> tuple[str, ...]:
        """Return both, one to a line."""
        return (*(f"Carried: {x}" for x in self.carried), *(f"Left to you: {x}" for x in self.left))


def begin_from(new: str | Path, old: str | Path) -> CarriedStudy:
    """Lay out a new study from an earlier one: its settings, and its ledger of looks.

    Parameters
    ----------
    new : str or Path
        Folder of the new study; made where it is not there. Nothing in it is overwritten.
    old : str or Path
        The earlier study's folder, or its `study.toml`.

    Returns
    -------
    CarriedStudy

    Raises
    ------
    SettingError
        If the earlier study cannot be read, its dates stand where they cannot be taken out, a file
        is there already, or the folder cannot be written to. Nothing is then left behind.
    """
    earlier = read_earlier(old)
    told = tell_carried(earlier)
    lay_out_carried(new, earlier, told, earlier.text)
    return told


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierStudy:
    """An earlier study at hand: itself, its file's text without dates, and its ledger."""

    study: Study
    text: str
    n_looks: int
    flaws: tuple[str, ...]


def read_earlier(old: str | Path) -> EarlierStudy:
    """Read an earlier study, its folder or its `study.toml`; raises as `begin_from`."""
    study = read_study(old)
    source = Path(old) / STUDY_FILE if Path(old).is_dir() else Path(old)
    text = source.read_bytes().removeprefix(b"\xef\xbb\xbf").decode("utf-8")
    ledger = read_history(study.folder)
    return EarlierStudy(study=study, text=_without_dates(text.replace("\r\n", "\n")),
                        n_looks=len(ledger.looks), flaws=ledger.flaws)  # fmt: skip


def lay_out_carried(
    new: str | Path, earlier: EarlierStudy, told: CarriedStudy, text: str,
    copies: Mapping[str, Path] | None = None,
) -> None:  # fmt: skip
    """Write a carried study file, the ledger, and copies of files by name; raises as `begin_from`.

    A file that lies in the folder already stays where it is.
    """
    root = Path(new)
    if root.is_file():
        raise SettingError(f"'{root}' is a file, and no folder for a study.", "Name a new folder.")
    fresh = {root / n: p for n, p in (copies or {}).items()
             if not ((root / n).exists() and (root / n).samefile(p))}  # fmt: skip
    kept = [root / n for n in (STUDY_FILE, HISTORY_FILE, DECLARED_FILE)]
    there = [p for p in (*kept, *fresh) if p.exists() or p.is_symlink()]
    if there:
        raise SettingError(
            f"'{there[0]}' is there already; nothing was written.",
            "Name a new folder, or move the file away.",
        )
    path = root / STUDY_FILE
    written: list[Path] = []
    made: list[Path] = []
    try:
        root.mkdir(parents=True, exist_ok=True)
        for target, source in fresh.items():
            above = [p for p in target.parents if p.is_relative_to(root) and not p.exists()]
            target.parent.mkdir(parents=True, exist_ok=True)
            made += above
            write_whole(target, source.read_bytes(), replace=False)
            written.append(target)
        write_whole(path, _head(earlier.study, told) + text, replace=False)
        written.append(path)
        copy_history(earlier.study.folder, root)
    except (OSError, SettingError) as error:
        for target in written:
            target.unlink(missing_ok=True)
        for folder in made:
            folder.rmdir()
        if isinstance(error, SettingError):
            raise
        raise SettingError(
            f"The study cannot be laid out in '{root}' ({error.strerror or error}).",
            "Name a folder that you may write to.",
        ) from None


def _without_dates(text: str) -> str:
    """Return a study file's text with last year's dates as comments; all else as it stands."""
    table, out = "", []
    lines = text.split("\n")
    if lines[0].startswith(FIRST_LINE) and LAST_LINE in lines:
        lines = lines[lines.index(LAST_LINE) + 1 :]
        lines = lines[1:] if lines and not lines[0] else lines
    for line in lines:
        head = re.match(r"\s*\[\s*([a-z_]+)\s*\]", line)
        other = re.match(r"\s*\[", line)
        table = head[1] if head else "" if other else table
        key = next((k for t, k in LEFT if t == table and re.match(rf"\s*{k}\s*=", line)), "")
        if key:
            was = line.partition("=")[2].partition("#")[0].strip()
            line = f"# {key} =    (left to you; the earlier study's: {was})"
        out.append(line)
    bare = "\n".join(out)
    if tomllib.loads(bare) != _no_dates(tomllib.loads(text)):
        raise SettingError(
            "The earlier study file writes its dates where they cannot be taken out.",
            "Give analysis_date, and backtest_date if there is one, a line of its own below its "
            "[table].",
        )
    return bare


def _no_dates(raw: dict[str, Any]) -> dict[str, Any]:
    return {t: {k: v for k, v in part.items() if (t, k) not in LEFT}
            if isinstance(part, dict) else part for t, part in raw.items()}  # fmt: skip


def _head(study: Study, told: CarriedStudy) -> str:
    lines = [
        f"{FIRST_LINE}“{study.name}” (records to {study.settings.study.analysis_date}).",
        *(f"# {x}" for x in told.lines),
        LAST_LINE,
    ]
    return "\n".join(lines) + "\n\n"


def tell_carried(
    earlier: EarlierStudy, placed: Mapping[int, str] | None = None, *, day: str = "",
    more: Sequence[str] = (),
) -> CarriedStudy:  # fmt: skip
    """Say what a new study takes over, and what is left to the user.

    Parameters
    ----------
    earlier : EarlierStudy
        The earlier study.
    placed : mapping, optional
        Record files, counted from 1, that sheets of this year stand in for, with what is said of
        those.
    day : str
        The new date of analysis where it is known.
    more : sequence of str
        What else is left to the user.
    """
    placed = placed or {}
    return CarriedStudy(
        carried=tuple(_carried(earlier, placed)),
        left=(*_left(earlier.study, placed, day), *more),
        n_looks=earlier.n_looks,
    )


def _carried(earlier: EarlierStudy, placed: Mapping[int, str]) -> Iterator[str]:
    study, n_looks, flaws = earlier.study, earlier.n_looks, earlier.flaws
    s = study.settings
    dates = {f"{t}.{k}" for t, k in LEFT}
    apart = {"treat.actions", "merge.decisions", "question.rules"}
    n = len([k for k in study.chosen if k not in dates | apart])
    yield f"the study's settings as they stand ({n} set)."
    parts = [
        count(len(s.question.rules), "rule") if s.question.rules else "",
        count(len(s.treat.actions), "treatment of a finding", "treatments of findings")
        if s.treat.actions else "",
        count(len(s.merge.decisions), "decision") + " on returns that disagree"
        if s.merge.decisions else "",
    ]  # fmt: skip
    if any(parts):
        yield f"{listed([p for p in parts if p])}."
    for i, (f, *_) in enumerate(tables_of(study), start=1):
        maps = [_counted(len(getattr(f, m)), MAP_WORDS[m]) for m in MAPS if getattr(f, m)]
        read = f", with {listed(maps)}" if maps else ""
        now = f"; {placed[i]}" if i in placed else ""
        yield f"how {f.asked} is read ({_who(f)}){read}{now}."
    if n_looks:
        yield (
            f"{count(n_looks, 'earlier look')} ({HISTORY_FILE}), so that looks over the years are "
            "counted."
        )
    if flaws:
        yield f"what is wrong with {HISTORY_FILE}, as it is: {flaws[0]}"


def _left(study: Study, placed: Mapping[int, str], day: str) -> Iterator[str]:
    s = study.settings
    was = s.study.analysis_date
    if not day:
        yield (
            "analysis_date under [study], the date to which this year's records are complete (the "
            f"earlier study's: {was})."
        )
    if (study.folder / DECLARED_FILE).exists():
        yield (
            f"declare this year's question before its records are drawn; {DECLARED_FILE} is not "
            f"carried (the earlier study's: {_declared_on(study)}), its settings are the base."
        )
    if s.forecast.backtest_date is not None:
        yield (
            "backtest_date under [forecast], if the look back is not to be 12 months (the earlier "
            f"study's: {s.forecast.backtest_date})."
        )
    year = "" if was is None else str(was.year)
    for i, (f, *_) in enumerate(tables_of(study), start=1):
        if i in placed:
            continue
        named = bool(year) and year in f.asked
        dated = f"; its name holds {year}: name this year's file" if named else ""
        if f.origin:
            yield (
                f"draw this year's rows of {f.asked} with 'fleetstats study FOLDER --draw' "
                f"({_who(f)}){dated}."
            )
        else:
            yield f"put this year's {f.asked} into the folder ({_who(f)}){dated}."
    if s.fleet.serials_file:
        yield f"put {s.fleet.serials_file} into the folder: every serial built up to now."
    if year and year in s.study.title:
        yield f"the title, which holds {year}."
    rows = [d for d in s.merge.decisions if " row " in str(d.get("take", ""))]
    if rows:
        yield (
            f"look again at {count(len(rows), 'decision')} under [[merge.decisions]] that "
            f"{'names' if len(rows) == 1 else 'name'} rows of last year's files: "
            f"{listed([str(d['engine']) for d in rows[:5]])}."
        )


def tables_of(study: Study) -> list[list[RecordFile]]:
    """Return the files of each table [[records]] in turn: several where it names a pattern."""
    out: dict[int, list[RecordFile]] = {}
    for f in study.files:
        out.setdefault(f.number, []).append(f)
    return list(out.values())


def _declared_on(study: Study) -> str:
    try:
        return f"declared on {read_declared(study.folder)[-1].declared}"
    except SettingError:
        return "not as it was written"


def _who(f: RecordFile) -> str:
    return f"{f.shape}, {f.source}" if f.source else f.shape


def _counted(n: int, one: str) -> str:
    first, _, rest = one.partition(" ")
    return count(n, one, f"{first}s {rest}" if rest.startswith("for ") or rest.startswith("of ")
                 else f"{one}s")  # fmt: skip
