"""`fleetstats template`: a workbook to send to members."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import answer, output_options


@click.command(
    "template",
    epilog="\b\nExamples:\n"
    "  fleetstats template return.xlsx\n"
    "  fleetstats template log.xlsx --shape log --build standard --build uprated",
)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--shape",
    type=click.Choice(["lives", "log", "histories"]),
    default="lives",
    show_default=True,
    help="One row per engine life, per event, or per engine with its history in columns.",
)
@click.option("--build", "builds", multiple=True, help="A build standard to offer; repeat it.")
@click.option("--cause", "causes", multiple=True, help="A cause to offer; repeat it.")
@output_options
def command(
    file: Path,
    shape: str,
    builds: tuple[str, ...],
    causes: tuple[str, ...],
    as_json: bool,
    quiet: bool,
) -> None:
    """Write FILE, a workbook with drop-down lists for members to fill in and send back."""
    from fleetstats.records.template_xlsx import COMMON_CAUSES, write_return_template

    del quiet
    path = write_return_template(file, shape=shape, builds=builds, causes=causes or COMMON_CAUSES)
    answer({"schema": "fleetstats/written/1", "path": str(path)}, str(path), as_json=as_json)
