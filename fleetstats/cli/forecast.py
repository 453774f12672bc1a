"""`fleetstats forecast`: what is coming for the fleet."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.chapter import csv_option, run_chapter
from fleetstats.cli.options import folder_argument, output_options

MISSING = "No engine in the records is running."


@click.command("forecast", epilog="Example: fleetstats forecast my-club --months 6")
@folder_argument
@click.option("--months", type=float, help="Months ahead.  [default: the study's]")
@csv_option
@output_options
@click.pass_context
def command(
    ctx: click.Context,
    folder: Path,
    months: float | None,
    csv: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Forecast failures, removals, spares and reserve for the fleet of FOLDER."""
    run_chapter(
        ctx,
        folder,
        ("backtest", "forecast"),
        MISSING,
        as_json=as_json,
        quiet=quiet,
        csv=csv,
        change=None if months is None else ("forecast", "months", months),
    )
