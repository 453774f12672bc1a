"""`fleetstats hidden`: what unreported or doubtful facts would change."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.chapter import csv_option, run_chapter
from fleetstats.cli.options import folder_argument, output_options

MISSING = "Nothing can be said of what is hidden."


@click.command("hidden", epilog="Example: fleetstats hidden my-club --csv tables")
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
    """Say what unreported failures, lost engines and misread hours would change in FOLDER."""
    run_chapter(
        ctx,
        folder,
        ("hidden",),
        MISSING,
        as_json=as_json,
        quiet=quiet,
        csv=csv,
    )
