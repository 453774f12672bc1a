"""`fleetstats begin`: a new study folder, with commented templates or from an earlier study."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import put, say


@click.command(
    "begin",
    epilog="Examples: fleetstats begin my-club; fleetstats begin my-club-2026 --from my-club-2025",
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--from",
    "old",
    type=click.Path(path_type=Path),
    metavar="OLD",
    help="Earlier study whose settings, maps, decisions and ledger of looks are carried on.",
)
@click.option("--quiet", is_flag=True, help="Print the folder only.")
def command(folder: Path, old: Path | None, quiet: bool) -> None:
    """Lay out FOLDER as a new study: study.toml with every setting explained, and templates.

    With --from, the study file is OLD's word for word, but for its dates; nothing of its records is
    copied.
    """
    if old is not None:
        from fleetstats.study.carry import begin_from

        for line in begin_from(folder, old).lines:
            say(line, quiet=quiet)
        say("Then: fleetstats check " + str(folder), quiet=quiet)
    else:
        from fleetstats.study.scaffold import write_scaffold

        write_scaffold(folder)
        say("Fill in study.toml and the record file, then: fleetstats check " + str(folder),
            quiet=quiet)  # fmt: skip
    put(str(folder))
