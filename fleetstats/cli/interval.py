"""`fleetstats interval`: whether a study's checks are frequent enough."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.chapter import csv_option, run_chapter
from fleetstats.cli.options import folder_argument, output_options

MISSING = (
    "The records hold neither check sheets nor faults found at checks. Add a file of shape "
    '"checks", or the endings found-at-check and removed-finding.'
)


@click.command("interval", epilog="Example: fleetstats interval my-club --hours 25")
@folder_argument
@click.option("--hours", type=float, help="Hours between checks.  [default: the study's]")
@csv_option
@output_options
@click.pass_context
def command(
    ctx: click.Context,
    folder: Path,
    hours: float | None,
    csv: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Are the checks of FOLDER frequent enough?"""
    run_chapter(
        ctx,
        folder,
        ("condition", "check-interval"),
        MISSING,
        as_json=as_json,
        quiet=quiet,
        csv=csv,
        change=None if hours is None else ("check", "interval_h", hours),
    )
