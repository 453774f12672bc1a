"""What the verbs share: options, output and exit codes."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from fleetstats.core.screen import screen_text
from fleetstats.vocabulary.caution import STANDING_NOTICE
from fleetstats.vocabulary.fold import fold

if TYPE_CHECKING:
    from fleetstats.core.crew import Crew
    from fleetstats.vocabulary.caution import Caution

NOT_HELD = "This system cannot hold a process to a bound of memory; --memory chooses how is read."

F = TypeVar("F", bound=Callable[..., Any])

NOT_ENOUGH = 3
"""Exit code of a run that is done and whose answer is 'not enough evidence'."""


def folder_argument(function: F) -> F:
    """Take the study's folder (or its study.toml) as the one argument."""
    return click.argument("folder", type=click.Path(path_type=Path))(function)


def output_options(function: F) -> F:
    """Add --json and --quiet."""
    function = click.option(
        "--quiet", is_flag=True, help="Print the answer only; no progress, no notes."
    )(function)
    return click.option(
        "--json", "as_json", is_flag=True, help="Print the answer as JSON on stdout."
    )(function)


def at_option(function: F) -> F:
    """Add --at NAME=VALUE, as often as there are values to choose."""
    return click.option(
        "--at", multiple=True, metavar="NAME=VALUE",
        help="Give life, reliability and hazard at this value of a covariate, such as use=towing; "
        "may stand several times.  [default: the study's]",
    )(function)  # fmt: skip


def report_option(function: F) -> F:
    """Add --out, the folder of a report, named after the study's where it is not given."""
    return click.option(
        "--out", type=click.Path(path_type=Path, file_okay=False),
        help="Folder for the report.  [default: reports/NAME-OF-FOLDER]",
    )(function)  # fmt: skip


def since_option(function: F) -> F:
    """Add --since, a date after which alone what happened counts."""
    return click.option(
        "--since", default="", metavar="DATE",
        help="Count only what happened after DATE, such as 2024-09-01: every engine enters at the "
        "age then reached.  [default: study.since]",
    )(function)  # fmt: skip


def memory_option(function: F) -> F:
    """Add --memory, a bound on what the computing may take."""
    return click.option(
        "--memory", default="", metavar="SIZE",
        help="Hold the computing to so much memory, such as 2GB: tables are read by chunks from a "
        "smaller size on, files of the report leave memory one by one, and what does not fit says "
        "so in its place.",
    )(function)  # fmt: skip


def again_option(function: F) -> F:
    """Add --again, which takes up nothing that an earlier run kept."""
    return click.option(
        "--again", is_flag=True,
        help="Forget what earlier runs kept of FOLDER in your cache folder (FLEETSTATS_KEPT names "
        "another; \"no\" keeps nothing), and read and compute all anew.",
    )(function)  # fmt: skip


def report_folder(out: Path | None, folder: Path, *, quick: bool = False) -> Path:
    """Return the folder of a report: the one asked for, or one named after the study's folder.

    A `quick` study has a folder of its own, where it replaces no whole report.
    """
    return out or Path("reports") / (folder.resolve().name + ("-quick" if quick else ""))


def work_options(function: F) -> F:
    """Add --workers and --scheduler, for work that others can do."""
    function = click.option(
        "--scheduler", default="", metavar="ADDRESS",
        help="Let a running Dask scheduler do the work (extra 'scheduler').",
    )(function)  # fmt: skip
    return click.option(
        "--workers", type=click.IntRange(1, 256),
        help="Local processes that do the work; 1 uses this one.  [default: one a processor]",
    )(function)  # fmt: skip


def crew_of(workers: int | None, scheduler: str) -> Crew:
    """Return who does the work, as the options say; results do not depend on it."""
    from fleetstats.core.crew import MOST_WORKERS, Crew

    if workers is None:
        own = getattr(os, "sched_getaffinity", None)
        workers = min(len(own(0)) if own else os.cpu_count() or 1, MOST_WORKERS)
    return Crew(workers=workers, scheduler=scheduler)


def put(text: str, *, err: bool = False) -> None:
    """Write text to the screen; the one door to it, through which nothing steers a terminal."""
    click.echo(screen_text(text), err=err)


def put_error(text: str) -> None:
    """Write an error to stderr; a line that something quoted in it begins is never its first."""
    first, *others = text.split("\n")
    put("\n".join([f"fleetstats: {first}", *(f"  {x.lstrip()}" for x in others)]), err=True)


def say(text: str, *, quiet: bool = False) -> None:
    """Write a note to stderr, unless asked to be quiet."""
    if not quiet:
        put(text, err=True)


def answer(value: dict[str, Any], text: str, *, as_json: bool) -> None:
    """Write the answer to stdout, as JSON or as text."""
    put(_as_json(value) if as_json else text)


def _as_json(value: dict[str, Any]) -> str:
    """Return JSON with every letter that a terminal would not show spelled as JSON spells it."""
    # a console of an old encoding gets letters that it has not as JSON's own escapes
    plain = not fold(sys.stdout.encoding or "").startswith("utf")
    text = json.dumps(value, indent=2, ensure_ascii=plain)
    if text.replace("\n", "").isprintable():
        return text
    return "\n".join(
        line
        if line.isprintable()
        else "".join(c if c.isprintable() else json.dumps(c)[1:-1] for c in line)
        for line in text.split("\n")
    )


def full_text(said: str, cautions: Iterable[Caution] = ()) -> str:
    """Return an answer with the cautions that qualify it and the standing notice below."""
    lines = [f"Caution ({c.code}): {c.text}" for c in cautions]
    return "\n".join([said, "", *lines, *([""] if lines else []), *STANDING_NOTICE])


@contextmanager
def progress(quiet: bool) -> Iterator[Callable[[str], None]]:
    """Show the stage at work on stderr, on a terminal only; yields a function that names it."""
    if quiet or not sys.stderr.isatty():
        yield lambda _stage: None
        return
    from rich.console import Console

    with Console(stderr=True).status("starting") as status:
        yield lambda stage: status.update(stage)
