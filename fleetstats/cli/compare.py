"""`fleetstats compare`: last year's study and this year's."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import answer, output_options, progress, say


@click.command(
    "compare",
    epilog="Example: fleetstats compare my-club-2025 my-club-2026 --out reports/since-2025",
)
@click.argument("old", type=click.Path(path_type=Path))
@click.argument("new", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for a report of the comparison; none is written without it.",
)
@output_options
def command(old: Path, new: Path, out: Path | None, as_json: bool, quiet: bool) -> None:
    """Say what changed from study OLD to study NEW, and walk from one advice to the other."""
    from fleetstats.report.write import write_report
    from fleetstats.studies.compare.compared import compare_folders
    from fleetstats.studies.compare.document import compose_compare

    page = None
    with progress(quiet) as stage:
        found = compare_folders(old, new, stage)
        if out is not None:
            stage("writing the report")
            told = f"fleetstats compare {found.before.study.name} {found.after.study.name}"
            document = compose_compare(found.before, found.after, found.walk, command=told)
            page = write_report(document, found.walk, out)
    lines = found.lines(notice=not quiet)
    answer(found.walk.to_dict(), "\n".join(lines), as_json=as_json)
    if page is not None:
        say(f"Report: {page}", quiet=quiet)
