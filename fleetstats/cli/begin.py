"""`fleetstats begin`: a new study folder, with commented templates or from an earlier study."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleetstats.cli.next_steps import after_begin, tell
from fleetstats.cli.options import put, say

if TYPE_CHECKING:
    from fleetstats.records.guess.guess import GuessedStudy


@click.command(
    "begin",
    epilog="Examples: fleetstats begin my-club; fleetstats begin my-club --from engines.xlsx; "
    "fleetstats begin my-club-2026 --from my-club-2025; "
    "fleetstats begin my-club-2026 --from my-club-2025 engines-2026.xlsx",
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.argument("more", nargs=-1, type=click.Path(path_type=Path), metavar="[FILE]...")
@click.option(
    "--from",
    "given",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="OLD|FILE...",
    help="Earlier study whose settings, maps, decisions and ledger of looks are carried on; "
    "tables (CSV, XLSX, Parquet) whose meaning is guessed; or a study, then tables.",
)
@click.option("--quiet", is_flag=True, help="Print the folder only.")
def command(folder: Path, given: tuple[Path, ...], more: tuple[Path, ...], quiet: bool) -> None:
    """Lay out FOLDER as a new study: study.toml with every setting explained, and templates.

    With --from and an earlier study's folder, the study file is OLD's word for word, but for its
    dates; nothing of its records is copied. With --from and files, they are copied, and columns,
    words and ways of writing are guessed: each guess stands in study.toml with its reason, and
    those that could hide a failure are left open. With both, the files are read as OLD's were, and
    what its maps do not know is guessed.
    """
    sources = (*given, *more)
    if more and not given:
        raise click.UsageError("Files are named after --from: begin FOLDER --from FILE ...")
    studies = [p for p in sources if p.is_dir() or p.name == "study.toml"]
    if len(studies) > 1:
        raise click.UsageError("--from takes one earlier study, with this year's files beside it.")
    missing = next((p for p in sources if not p.exists()), None)
    if missing is not None and (len(sources) > 1 or missing.suffix):
        raise click.UsageError(f"There is no file or folder at '{missing}'.")
    if studies and len(sources) > 1:
        _again(folder, studies[0], tuple(p for p in sources if p not in studies), quiet=quiet)
    elif studies or missing is not None:
        from fleetstats.study.carry import begin_from

        for line in begin_from(folder, sources[0]).lines:
            say(line, quiet=quiet)
        tell([after_begin(folder)], quiet=quiet)
    elif sources:
        _guess(folder, sources, quiet=quiet)
    else:
        from fleetstats.study.scaffold import write_scaffold

        write_scaffold(folder)
        tell([after_begin(folder, first="fill in study.toml and the record file")], quiet=quiet)
    put(str(folder))


def _guess(folder: Path, files: tuple[Path, ...], *, quiet: bool) -> None:
    from fleetstats.records.guess.write import begin_from_files

    guessed = begin_from_files(folder, files)
    _tell(folder, guessed.lines, guessed, quiet=quiet)


def _again(folder: Path, old: Path, files: tuple[Path, ...], *, quiet: bool) -> None:
    from fleetstats.records.guess.again import begin_again

    begun = begin_again(folder, old, files)
    _tell(folder, begun.lines, begun.guessed, quiet=quiet)


def _tell(folder: Path, lines: tuple[str, ...], guessed: GuessedStudy, *, quiet: bool) -> None:
    for line in lines:
        say(line, quiet=quiet)
    for place, g in guessed.open_guesses:
        where = f"{place}: " if place else ""
        say(f"OPEN: {where}{g.what}: {g.reason}.", quiet=quiet)
    first = "fill in the lines marked OPEN in study.toml" if guessed.open_guesses else ""
    tell([after_begin(folder, first=first)], quiet=quiet)
