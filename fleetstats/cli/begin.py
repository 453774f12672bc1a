"""`fleetstats begin`: a new study folder with commented templates."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import say


@click.command(
    "begin",
    epilog="Example: fleetstats begin my-club",
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--quiet", is_flag=True, help="Print the folder only.")
def command(folder: Path, quiet: bool) -> None:
    """Lay out FOLDER as a new study: study.toml with every setting explained, and templates."""
    from fleetstats.study.scaffold import write_scaffold

    write_scaffold(folder)
    say("Fill in study.toml and the record file, then: fleetstats check " + str(folder),
        quiet=quiet)  # fmt: skip
    click.echo(folder)
