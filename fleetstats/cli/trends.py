"""`fleetstats trends`: what the checks show over time."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.chapter import csv_option, run_chapter
from fleetstats.cli.options import folder_argument, output_options

MISSING = 'The study has no file of shape "leakdown", and no grades or oil use among its checks.'


@click.command("trends", epilog="Example: fleetstats trends my-club --json")
@folder_argument
@csv_option
@output_options
@click.pass_context
def command(
    ctx: click.Context,
    folder: Path,
    csv: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Say what leak-down, metal on the plug and oil use show in FOLDER, worst first."""
    run_chapter(
        ctx,
        folder,
        ("condition", "trends"),
        MISSING,
        as_json=as_json,
        quiet=quiet,
        csv=csv,
    )
