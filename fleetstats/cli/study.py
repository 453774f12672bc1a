"""`fleetstats study`: from records to advice and a report."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import (
    NOT_ENOUGH,
    answer,
    folder_argument,
    output_options,
    progress,
    report_folder,
    report_option,
    say,
)


def run(folder: Path, out: Path | None, *, as_json: bool, quiet: bool) -> int:
    """Run one study, write its report to `out` and its answer to stdout; return the exit code."""
    from fleetstats.core.beside import Beside, count_processors
    from fleetstats.study.study import read_study

    study = read_study(folder)
    out = report_folder(out, study.folder)
    with progress(quiet) as stage, Beside() as beside:
        beside.begin(count_processors)  # it starts while this process imports
        from fleetstats.chapters.compose import compose_checked
        from fleetstats.report.write import write_report
        from fleetstats.studies.analyse import analyse

        results = analyse(study, stage=stage, beside=beside)
        stage("writing the report")
        results, document = compose_checked(results)
        page = out / write_report(document, results, out, beside=beside).name
    answer(results.to_dict(), "\n".join(results.answer_lines()), as_json=as_json)
    say(f"Report: {page}", quiet=quiet)
    return 0 if results.enough else NOT_ENOUGH


@click.command("study", epilog="Example: fleetstats study my-club --out reports/2026")
@folder_argument
@report_option
@output_options
@click.pass_context
def command(ctx: click.Context, folder: Path, out: Path | None, as_json: bool, quiet: bool) -> None:
    """Run the study in FOLDER: read, audit, fit, advise, and write its report."""
    ctx.exit(run(folder, out, as_json=as_json, quiet=quiet))
