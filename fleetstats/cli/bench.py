"""`fleetstats bench`: what the bench says of service."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.chapter import csv_option, run_chapter
from fleetstats.cli.options import folder_argument, output_options

MISSING = 'The study has no file of shape "bench".'


@click.command("bench", epilog="Example: fleetstats bench my-club --json")
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
    """Carry the bench lives of FOLDER to service, and test them against the field."""
    run_chapter(
        ctx,
        folder,
        ("condition", "bench"),
        MISSING,
        as_json=as_json,
        quiet=quiet,
        csv=csv,
    )
