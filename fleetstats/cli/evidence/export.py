"""`fleetstats export`: the brief of a study in one small file, for e-mail."""

from __future__ import annotations

import tempfile
from pathlib import Path

import click

from fleetstats.cli.options import answer, folder_argument, output_options, progress


@click.command("export", epilog="Example: fleetstats export my-club --short --pseudonymous")
@folder_argument
@click.option("--short", is_flag=True, help="The brief in one page under 300 kB, for e-mail.")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False),
              help="The page.  [default: NAME-OF-FOLDER-brief.html]")  # fmt: skip
@click.option("--pseudonymous", is_flag=True, help="Names of engines and sources replaced.")
@click.option("--key-file", type=click.Path(path_type=Path, dir_okay=False),
              help="Keep the key of the pseudonyms here, never sent; by default it is "
              "forgotten.")  # fmt: skip
@output_options
def command(
    folder: Path,
    short: bool,
    out: Path | None,
    pseudonymous: bool,
    key_file: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Run the study in FOLDER and write its brief as one page that needs nothing beside it."""
    from fleetstats.report.bundle.export import export_short
    from fleetstats.report.bundle.pseudonyms import read_key
    from fleetstats.study.study import read_study

    if not short:
        raise click.UsageError("Say what to export: --short writes the brief in one page.")
    study = read_study(folder)
    name = "study-brief.html" if pseudonymous else f"{study.name}-brief.html"
    with progress(quiet) as stage, tempfile.TemporaryDirectory(prefix="fleetstats-export-") as at:
        stage("working out the brief")
        key = None if key_file is None or not pseudonymous else read_key(key_file)
        exported = export_short(
            study, out or Path(name), pseudonymous=pseudonymous, key=key, place=Path(at)
        )
    answer(exported.to_dict(), str(exported), as_json=as_json)
