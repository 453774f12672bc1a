"""`fleetstats check-return`: check one return alone, before it is sent."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import NOT_ENOUGH, answer, output_options


@click.command("check-return", epilog="Example: fleetstats check-return return.xlsx")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--shape",
    type=click.Choice(["lives", "log", "histories"]),
    default=None,
    help="What a row stands for; told by sheet name or columns when left out.",
)
@output_options
@click.pass_context
def command(ctx: click.Context, file: Path, shape: str | None, as_json: bool, quiet: bool) -> None:
    """Check FILE alone: what would be counted, and what is to be corrected first."""
    from fleetstats.records.check_return import check_return

    audit = check_return(file, shape=shape or "")
    answer(audit.to_dict(), audit.summary() if quiet else str(audit), as_json=as_json)
    ctx.exit(0 if audit.ok else NOT_ENOUGH)
