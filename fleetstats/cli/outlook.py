"""`fleetstats outlook`: which engines to look at first."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.chapter import csv_option, run_chapter
from fleetstats.cli.options import folder_argument, output_options

MISSING = "No engine in the records is running."


@click.command("outlook", epilog="Example: fleetstats outlook my-club --json")
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
    """Rank the running engines of FOLDER, with reasons; those past the evidence apart."""
    run_chapter(
        ctx,
        folder,
        ("condition", "trends", "outlook"),
        MISSING,
        as_json=as_json,
        quiet=quiet,
        csv=csv,
    )
