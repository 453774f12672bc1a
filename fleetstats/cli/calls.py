"""`fleetstats calls`: whom to ask for a fresh reading, and the list with boxes for the answers."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import (
    answer,
    folder_argument,
    full_text,
    output_options,
    progress,
    say,
)


@click.command(
    "calls",
    epilog="\b\nExamples:\n"
    "  fleetstats calls my-club --most 20 --out calls.xlsx\n"
    "  fleetstats calls my-club --by owner --hours 1500",
)
@folder_argument
@click.option("--hours", type=float, help="Hours of the claim.  [default: the study's claim]")
@click.option("--most", type=click.IntRange(min=1, max=500), default=20, show_default=True,
              help="Calls that are chosen and worked out together.")  # fmt: skip
@click.option("--by", type=click.Choice(["engine", "owner"]), default="engine", show_default=True,
              help="Ask about one engine a call, or about all engines of a source.")  # fmt: skip
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False),
              help="Write the whole list with boxes for the answers: .xlsx or .csv.")  # fmt: skip
@output_options
def command(
    folder: Path,
    hours: float | None,
    most: int,
    by: str,
    out: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Say whom to ask in FOLDER for a fresh reading, by how much it would move the claim."""
    from fleetstats.chapters.calls import list_calls, list_text
    from fleetstats.report.call_sheet import SHEET, check_place, write_call_sheet
    from fleetstats.studies.single import read_base
    from fleetstats.study.study import read_study
    from fleetstats.vocabulary.slugs import suffix_of

    if out is not None:
        check_place(out)
    study = read_study(folder)
    with progress(quiet) as stage:
        stage("reading the records")
        base = read_base(study)
        stage("working out what each call would show")
        calls = list_calls(base, hours=hours, most=most, by=by)
    text = list_text(calls)
    answer(calls.to_dict(), calls.sentence if quiet else full_text(text), as_json=as_json)
    if out is not None:
        write_call_sheet(calls, out)
        sheet = f'\nsheet = "{SHEET}"' if suffix_of(out) == ".xlsx" else ""
        say(
            f"wrote {out}. Fill in what you are told, put it into the study's folder and add to "
            f'study.toml:\n\n[[records]]\nfile = "{out.name}"{sheet}',
            quiet=quiet,
        )
