"""`fleetstats pool`: whether sources and builds may be taken together."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.chapter import csv_option, run_chapter
from fleetstats.cli.options import folder_argument, output_options

MISSING = "There is one engine or none in the records."


@click.command("pool", epilog="Example: fleetstats pool my-club --csv tables")
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
    """Say whether the sources and builds of FOLDER may be pooled, and what carries the answer."""
    run_chapter(
        ctx,
        folder,
        ("pooling",),
        MISSING,
        as_json=as_json,
        quiet=quiet,
        csv=csv,
    )
