"""`fleetstats study`: from records to advice and a report."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleetstats.cli.history import history_option, note_look
from fleetstats.cli.options import (
    NOT_ENOUGH,
    NOT_HELD,
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
    from fleetstats.advice.results import Results
    from fleetstats.core.crew import Crew
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
    crew: Crew | None = None,
) -> int:
    """Run one study, write its report to `out` and its answer to stdout; return the exit code.

    `chunks` says whether its table is read by chunks; None leaves that to its size. `stress` adds
    the chapter on made-up fleets, where the study file leaves it out; `at` asks for life at values
    of covariates, each "name=value". `history` writes the look down in the study's ledger. `since`
    counts only what happened after a date. `memory` bounds what the computing may take; `crew` does
    what others can do.
    """
    from fleetstats.core.beside import Beside, count_processors
    from fleetstats.core.memory import held_to, read_memory
    from fleetstats.report.place import check_place
    from fleetstats.study.study import read_study

    bound = read_memory(memory) if memory else None
    study = asked_of(read_study(folder), stress=stress, at=at, since=since)
    out = report_folder(out, study.folder)
    check_place(out)  # before the work, not after it
    # a bound holds for one process: what would be done beside is then done here, one by one
    with progress(quiet) as stage, Beside(wanted=False if bound else None) as beside:
        beside.begin(count_processors)  # it starts while this process imports
        from fleetstats.chapters.compose import compose_checked
        from fleetstats.report.write import write_report
        from fleetstats.spells.bulk.bulk import Bulk
        from fleetstats.studies.analyse import analyse
        from fleetstats.studies.how_read import choose_reading

        say(choose_reading(study, chunks, memory=bound).sentence, quiet=quiet)
        asked = command_line(study, chunks, since, memory)
        with held_to(bound) as held:
            if bound and not held:
                say(NOT_HELD, quiet=quiet)
            results = analyse(
                study, chunks, stage=stage, beside=beside, command=asked, memory=bound,
                crew=crew_within(crew, bound), tell=lambda told: say(told, quiet=quiet),
            )  # fmt: skip
            results, document = compose_checked(results)
        stage("writing the report")
        page = out / write_report(document, results, out, beside=beside).name
    if history:
        from fleetstats.chapters.looks_made import look_of_study

        note_look(study.folder, look_of_study(results, document.report_id), quiet=quiet)
    bulk = results.chapters.get("bulk")
    account = f"{bulk.summary()}.\n\n" if isinstance(bulk, Bulk) else ""
    answer(results.to_dict(), account + answer_text(results), as_json=as_json)
    say(f"Report: {page}", quiet=quiet)
    if not (quiet or as_json):
        from fleetstats.cli.next_steps import after_study, tell

        all_years = not since and not isinstance(bulk, Bulk)
        tell(after_study(results, document.brief, folder, out, all_years=all_years))
    return 0 if results.enough else NOT_ENOUGH


def draw_first(folder: Path, *, quiet: bool) -> None:
    """Draw the records of a study that lie elsewhere, and say which."""
    from fleetstats.records.drawing.draw import draw_records

    with progress(quiet) as stage:
        for name in draw_records(folder, stage=stage):
            say(f"drew {name}", quiet=quiet)


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


def command_line(study: Study, chunks: bool | None, since: str, memory: str = "") -> str:
    """Return the command line to print under *Provenance*; blank where it is the usual one."""
    from fleetstats.studies.how_read import option_of

    more = (f" --since {since}" if since else "") + (f" --memory '{memory}'" if memory else "")
    return f"fleetstats study {study.name}{option_of(chunks)}{more}" if more else ""


@click.command(
    "study",
    epilog="Examples: fleetstats study my-club --out reports/2026; "
    "fleetstats study all-parts --chunks",
)
@folder_argument
@click.option(
    "--chunks/--whole",
    "chunks",
    default=None,
    help="Read the one table of FOLDER by chunks, tens of millions of rows in a few gigabytes, or "
    "all record files whole.  [default: by their size]",
)
@click.option("--draw", is_flag=True,
              help="First draw anew the records that FOLDER names by URL or query.")  # fmt: skip
@click.option("--stress", is_flag=True,
              help="Try the claim on made-up fleets as well (half a minute or more).")  # fmt: skip
@history_option
@at_option
@since_option
@memory_option
@work_options
@report_option
@output_options
@click.pass_context
def command(
    ctx: click.Context,
    folder: Path,
    chunks: bool | None,
    draw: bool,
    stress: bool,
    no_history: bool,
    at: tuple[str, ...],
    since: str,
    memory: str,
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
        folder, out, as_json=as_json, quiet=quiet, chunks=chunks, stress=stress,
        history=not no_history, at=at, since=since, memory=memory,
        crew=crew_of(workers, scheduler),
    )  # fmt: skip
    ctx.exit(code)
