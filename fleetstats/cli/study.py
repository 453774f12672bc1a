"""`fleetstats study`: from records to advice and a report."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleetstats.cli.history import history_option, note_look
from fleetstats.cli.options import (
    NOT_ENOUGH,
    NOT_HELD,
    again_option,
    answer,
    at_option,
    crew_of,
    folder_argument,
    memory_option,
    output_options,
    progress,
    report_folder,
    report_option,
    say,
    since_option,
    work_options,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from fleetstats.advice.results import Results
    from fleetstats.core.beside import Beside
    from fleetstats.core.crew import Crew
    from fleetstats.document.document import Document
    from fleetstats.study.study import Study


def run(
    folder: Path,
    out: Path | None,
    *,
    as_json: bool,
    quiet: bool,
    chunks: bool | None = None,
    stress: bool = False,
    history: bool = True,
    at: tuple[str, ...] = (),
    since: str = "",
    memory: str = "",
    quick: bool = False,
    again: bool = False,
    crew: Crew | None = None,
) -> int:
    """Run one study, write its report to `out` and its answer to stdout; return the exit code.

    `chunks` says whether its table is read by chunks; None leaves that to its size. `stress` adds
    the chapter on made-up fleets, where the study file leaves it out; `at` asks for life at values
    of covariates, each "name=value". `history` writes the look down in the study's ledger. `since`
    counts only what happened after a date. `memory` bounds what the computing may take. `quick`
    writes the brief alone, and works out what it needs; `again` forgets what earlier runs kept;
    `crew` does what others can do.
    """
    from fleetstats.core.beside import Beside, count_processors
    from fleetstats.core.memory import held_to, read_memory
    from fleetstats.study.study import read_study

    bound = read_memory(memory) if memory else None
    study = asked_of(read_study(folder), stress=stress, at=at, since=since)
    out = place_of(out, study, quick=quick)  # before the work, not after it
    # a bound holds for one process: what would be done beside is then done here, one by one
    with progress(quiet) as stage, Beside(wanted=False if bound else None) as beside:
        if not quick:
            beside.begin(count_processors)  # it starts while this process imports
        from fleetstats.chapters.compose import compose_checked
        from fleetstats.core.shelf import open_shelf
        from fleetstats.studies.analyse import analyse
        from fleetstats.studies.how_read import choose_reading, told_what_would_do

        note = partial(say, quiet=quiet)
        note(choose_reading(study, chunks, memory=bound).sentence)
        asked = command_line(study, chunks, since, memory, quick=quick)
        with told_what_would_do(study, chunks, bound), held_to(bound) as held:
            if bound and not held:
                note(NOT_HELD)
            results = analyse(
                study, chunks, quick=quick, stage=stage, beside=beside, command=asked, memory=bound,
                crew=crew_within(crew, bound), tell=note,
                shelf=open_shelf(study.folder, again=again, tell=note),
            )  # fmt: skip
            results, document = compose_checked(results)
        stage("writing the brief" if quick else "writing the report")
        written = write_files(document, results, out, beside, quick=quick, bound=bound, tell=note)
    if history:
        from fleetstats.chapters.looks_made import look_of_study

        note_look(study.folder, look_of_study(results, document.report_id), quiet=quiet)
    account = account_of(results)
    answer(results.to_dict() if as_json else {}, account + answer_text(results), as_json=as_json)
    note(f"{'Brief' if quick else 'Report'}: {out / written}")
    if not (quiet or as_json):
        from fleetstats.cli.next_steps import after_study, tell

        say_quick(results)
        tell(after_study(results, document.brief, folder, out, all_years=not (since or account)))
    return 0 if results.enough else NOT_ENOUGH


def draw_first(folder: Path, *, quiet: bool) -> None:
    """Draw the records of a study that lie elsewhere, and say which."""
    from fleetstats.records.drawing.draw import draw_records

    with progress(quiet) as stage:
        for name in draw_records(folder, stage=stage):
            say(f"drew {name}", quiet=quiet)


def account_of(results: Results) -> str:
    """Return the account of the rows of a table read by chunks; blank of others."""
    from fleetstats.spells.bulk.bulk import Bulk

    bulk = results.chapters.get("bulk")
    return f"{bulk.summary()}.\n\n" if isinstance(bulk, Bulk) else ""


def place_of(out: Path | None, study: Study, *, quick: bool) -> Path:
    """Return the folder that a study is written to; refuse one that it must not go to."""
    from fleetstats.report.place import check_place

    out = report_folder(out, study.folder, quick=quick)
    check_place(out)
    if quick:
        from fleetstats.report.quick import check_quick_place

        check_quick_place(out)
    return out


def say_quick(results: Results) -> None:
    """Say what a quick study left out; nothing of any other."""
    from fleetstats.chapters.weakest import say_left_out

    if left := say_left_out(results.how_read):
        say(left)


def write_files(
    document: Document, results: Results, out: Path, beside: Beside, *, quick: bool,
    bound: int | None, tell: Callable[[str], None],
) -> str:  # fmt: skip
    """Write the report, or of a quick study the brief; return the name of what to open first.

    Within a bound of memory, what does not fit is left out and told.
    """
    if quick:
        from fleetstats.report.quick import write_brief

        return write_brief(document, results, out).name
    if bound is not None:
        from fleetstats.report.within import first_written, say_unwritten, write_within

        left_out = write_within(document, results, out, bound)
        if told := say_unwritten(left_out):
            tell(told)
        return first_written(left_out)
    from fleetstats.report.write import write_report

    return write_report(document, results, out, beside=beside).name


def crew_within(crew: Crew | None, bound: int | None) -> Crew | None:
    """Return who works within a bound of memory, which holds for one process of this machine."""
    from dataclasses import replace

    return crew if crew is None or bound is None else replace(crew, workers=1)


def asked_of(study: Study, *, stress: bool, at: tuple[str, ...], since: str) -> Study:
    """Return a study with what the command line asks of it besides."""
    if since:
        from fleetstats.study.since import with_since

        study = with_since(study, since)
    if stress:
        from fleetstats.chapters.stress import with_stress

        study = with_stress(study)
    if at:
        from fleetstats.chapters.covariates import with_asked

        study = with_asked(study, at)
    return study


def answer_text(results: Results) -> str:
    """Return a study's answer as lines, and what holds at the values of `--at` below it."""
    at_values = getattr(results.chapters.get("effects"), "at_sentence", "")
    return "\n".join((*results.answer_lines(), *(("", at_values) if at_values else ())))


def command_line(
    study: Study, chunks: bool | None, since: str, memory: str = "", *, quick: bool = False
) -> str:
    """Return the command line to print under *Provenance*; blank where it is the usual one."""
    from fleetstats.studies.how_read import option_of

    more = " --quick" if quick else ""
    more += (f" --since {since}" if since else "") + (f" --memory '{memory}'" if memory else "")
    return f"fleetstats study {study.name}{option_of(chunks)}{more}" if more else ""


@click.command(
    "study",
    epilog="Examples: fleetstats study my-club --out reports/2026; "
    "fleetstats study all-parts --chunks; fleetstats study my-club --quick",
)
@folder_argument
@click.option(
    "--chunks/--whole",
    "chunks",
    default=None,
    help="Read the tables of FOLDER by chunks, tens of millions of rows in a few gigabytes, or "
    "all record files whole.  [default: by their size]",
)
@click.option(
    "--quick",
    is_flag=True,
    help="Write the brief alone, in one page, and work out no more than it needs; what is "
    "left out is named. The folder is then reports/NAME-OF-FOLDER-quick.",
)
@click.option("--draw", is_flag=True,
              help="First draw anew the records that FOLDER names by URL or query.")  # fmt: skip
@click.option("--stress", is_flag=True,
              help="Try the claim on made-up fleets as well (half a minute or more).")  # fmt: skip
@history_option
@at_option
@since_option
@memory_option
@again_option
@work_options
@report_option
@output_options
@click.pass_context
def command(
    ctx: click.Context,
    folder: Path,
    chunks: bool | None,
    quick: bool,
    draw: bool,
    stress: bool,
    no_history: bool,
    at: tuple[str, ...],
    since: str,
    memory: str,
    again: bool,
    workers: int | None,
    scheduler: str,
    out: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Run the study in FOLDER: read, audit, fit, advise, and write its report.

    By chunks the answers are those of the same rows read whole; a chapter that needs each life with
    its dates is left out, and says so in its place. Others read the files of a long table, make up
    the fleets of --stress and refit long resamples; the answers are the same whoever does.
    """
    if draw:
        draw_first(folder, quiet=quiet)
    code = run(
        folder, out, as_json=as_json, quiet=quiet, chunks=chunks, quick=quick, stress=stress,
        history=not no_history, at=at, since=since, memory=memory,
        again=again,
        crew=crew_of(workers, scheduler),
    )  # fmt: skip
    ctx.exit(code)
