"""`fleetstats causes`: what fails, and what an overhaul mends of it."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.chapter import csv_option, run_chapter
from fleetstats.cli.options import folder_argument, output_options

MISSING = "No failure in the records has a cause."


@click.command("causes", epilog="Example: fleetstats causes my-club --json")
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
    """Say what fails in FOLDER by cause, and what is left where one cause is designed out."""
    run_chapter(
        ctx,
        folder,
        ("causes",),
        MISSING,
        as_json=as_json,
        quiet=quiet,
        csv=csv,
    )
