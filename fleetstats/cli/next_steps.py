"""What to do next, told at the end of `check`, `study`, `claim`, `begin` and `demo`.

The one place of these lines. Each is a command that runs as it is printed, with why. What a study's
brief says under *What to do next* is taken from there, not written again.
"""

from __future__ import annotations

import os
import shlex
import subprocess
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from fleetstats.cli.options import say

if TYPE_CHECKING:
    from fleetstats.advice.results import Results
    from fleetstats.document.brief import Brief

MEND_BOOK = "mend"
"""Stem of the workbook of odd cells that is proposed."""


def shown_path(path: str | Path) -> str:
    """Return a path as the shell of this machine takes it for one word."""
    word = str(path)
    return subprocess.list2cmdline([word]) if os.name == "nt" else shlex.quote(word)


def tell(lines: Iterable[str], *, quiet: bool = False) -> None:
    """Write what to do next as the last lines of a verb, beside its answer."""
    for line in lines:
        say(f"next: {line}", quiet=quiet)


def command(verb: str, folder: str | Path, *more: str, why: str = "") -> str:
    """Return a command on a study as it is typed, with why it is worth it."""
    told = " ".join(("fleetstats", verb, shown_path(folder), *more))
    return f"{told}    ({why})" if why else told


def after_check(folder: Path, n_errors: int, *, words: bool, used: bool = True) -> list[str]:
    """Return what follows an audit: mend what is an error, or run the study.

    Parameters
    ----------
    folder : Path
        The study's.
    n_errors : int
        Errors that stop the study.
    words : bool
        Whether lines to add to the study file were named, which cure some of them.
    used : bool
        Whether a row is used at all; a study without one has nothing to say.
    """
    if not (n_errors or used):
        return []
    if not n_errors:
        return [command("study", folder, why="no error is left; it writes the report")]
    add = ["add the lines named above to study.toml"] if words else []
    out = shown_path(free_book(Path()))
    return [*add, command("check", folder, "--out", out, why="decide on each odd cell there")]


def free_book(where: Path) -> Path:
    """Return the first name of a workbook of odd cells that is not taken in a folder."""
    path, n = where / f"{MEND_BOOK}.xlsx", 1
    while path.exists():
        n += 1
        path = where / f"{MEND_BOOK}-{n}.xlsx"
    return path


def after_book(folder: Path, book: Path) -> str:
    """Return what follows a workbook of odd cells that was written."""
    return command("check", folder, "--take", shown_path(book), why="once it is filled in")


def after_begin(folder: Path, *, first: str = "") -> str:
    """Return what follows a study that was laid out; `first` is what has to be filled in before."""
    return f"{first}, then: {command('check', folder)}" if first else command("check", folder)


def after_claim(
    folder: Path, state: str, hours_h: float, *, reliability: float | None, since: str
) -> list[str]:
    """Return what follows a claim, by how it was judged."""
    if since:  # the plan and the calls count all years
        return [command("study", folder, "--since", since, why="the report since then")]
    report = command("study", folder, why="the report, with its brief to sign")
    return [*_by_state(folder, state, hours_h, reliability), report]


def after_study(
    results: Results, brief: Brief | None, folder: Path, out: Path, *, all_years: bool
) -> list[str]:
    """Return what follows a study: the first step of its brief, then commands by its verdict.

    `all_years` says whether every verb reads the same rows as this study did.
    """
    verdict = results.advice.verdict
    parts = () if brief is None else brief.parts
    steps = [p.lines[0] for p in parts if p.key == "next"]
    pages = ("brief.pdf", "brief.html", "report.html")
    page = next(p for p in pages if p == pages[-1] or (out / p).exists())
    steps.append(f"read {shown_path(out / page)}; more under What to do next there")
    if results.how_read.quick:
        steps.append(command("study", folder, why="the whole report, before this is relied on"))
    if not all_years:
        return steps
    if verdict is not None:
        return [*steps, *_by_state(folder, verdict.word, verdict.claimed_h, None)]
    age = results.advice.horizon.supported_h
    if not age:
        return [*steps, command("sources", folder, why="who tells what")]
    asked = command("claim", folder, "--hours", f"{age:.0f}", why="what may be said there")
    return [*steps, asked]


def after_demo(folder: Path) -> list[str]:
    """Return what to try on a demo fleet: the page, the audit, a claim, whom to ask."""
    return [
        command("open", folder, why="the same in the browser"),
        command("check", folder, why="what is odd in its records"),
        command("claim", folder, "--hours", "1500", why="what may be said at those hours"),
        "fleetstats begin my-club --from YOUR-FILES    (your own sheets)",
    ]


def _by_state(folder: Path, state: str, hours_h: float, reliability: float | None) -> list[str]:
    at = ("--hours", f"{hours_h:.10g}")
    share = ("--reliability", f"{reliability:.10g}") if reliability is not None else ()
    plan = command("plan", folder, *at, *share, why="what further hours or engines would show")
    if state == "supported":
        return [plan]
    if state == "not-yet-shown":
        calls = command("calls", folder, *at, why="whom to ask for a fresh reading first")
        return [calls, plan]
    return [command("causes", folder, why="what fails, and what an overhaul mends of it")]
