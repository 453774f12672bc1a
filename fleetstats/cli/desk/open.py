"""`fleetstats open`: a study's folder in the browser, on this machine alone."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("open", epilog="Example: fleetstats open my-club")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False), default=Path())
@click.option("--no-browser", is_flag=True, help="Print the address only; open nothing.")
def command(folder: Path, no_browser: bool) -> None:
    """Open FOLDER as a page in the browser: drop records, settle what is odd, see the answer.

    Served to this machine alone, and nothing is sent anywhere. What the page does, it writes into
    FOLDER's study.toml, so that page and prompt may be used in turn. FOLDER is made where it is not
    there; without it the current folder is taken. Ctrl-C or closing the page ends it.
    """
    from fleetstats.desk.serve import serve

    serve(folder, browser=not no_browser, say=click.echo)
