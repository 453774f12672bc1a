"""`fleetstats selftest`: published cases, worked out on this machine."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import answer, output_options, progress, say


@click.command("selftest", epilog="Example: fleetstats selftest --out selftest.csv")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write the table to FILE as CSV too.")  # fmt: skip
@output_options
@click.pass_context
def command(ctx: click.Context, out: Path | None, as_json: bool, quiet: bool) -> None:
    """Work out published cases here, and say which figures agree with their sources.

    Exit code 1 where one does not: then the libraries on this machine give other figures than those
    that this package was tried with, and its answers here are not to be used.
    """
    from fleetstats.core.files import write_whole
    from fleetstats.selftest import run_selftest

    with progress(quiet) as stage:
        stage("working out published cases")
        found = run_selftest()
    if out is not None:
        write_whole(out, found.to_csv())
        say(f"Written: {out}", quiet=quiet)
    answer(found.to_dict(), found.sentence if quiet else str(found), as_json=as_json)
    ctx.exit(0 if found.good else 1)
