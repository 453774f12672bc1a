"""`fleetstats large`: a table of any length, read by chunks."""

from __future__ import annotations

from dataclasses import replace
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


@click.command("large", epilog="Example: fleetstats large all-parts --out reports/all-parts")
@folder_argument
@report_option
@output_options
@click.pass_context
def command(ctx: click.Context, folder: Path, out: Path | None, as_json: bool, quiet: bool) -> None:
    """Study the one long table in FOLDER by chunks: tens of millions of rows in a few gigabytes.

    The answers are those of an ordinary study of the same rows; chapters that look at single
    engines, sources or dates are left out, and the report names them.
    """
    from fleetstats.study.study import read_study

    study = read_study(folder)
    out = report_folder(out, study.folder)
    with progress(quiet) as stage:
        from fleetstats.chapters.compose import compose_checked
        from fleetstats.report.write import write_report
        from fleetstats.studies.large import analyse_large

        large = analyse_large(study, stage=stage)
        stage("writing the report")
        results, document = compose_checked(large.results)
        large = replace(large, results=results)
        page = out / write_report(document, large, out).name
    text = "\n".join((large.bulk.summary() + ".", "", *large.results.answer_lines()))
    answer(large.to_dict(), text, as_json=as_json)
    say(f"Report: {page}", quiet=quiet)
    ctx.exit(0 if large.results.enough else NOT_ENOUGH)
