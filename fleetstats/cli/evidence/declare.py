"""`fleetstats declare`: the question written down before the records are drawn."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click

from fleetstats.cli.options import answer, folder_argument, output_options


@click.command("declare", epilog="Example: fleetstats declare my-club")
@folder_argument
@click.option("--on", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE",
              help="Day to write down.  [default: today]")  # fmt: skip
@output_options
def command(folder: Path, on: dt.datetime | None, as_json: bool, quiet: bool) -> None:
    """Write the question of the study in FOLDER into its declared.json, with a digest.

    Question, targets, what counts as a failure, the list of serials, looks planned and the review:
    all that can be said before a record is seen. Declaring again adds a version; nothing that was
    declared is changed. The report then says what was changed since.
    """
    del quiet  # it prints its answer only
    from fleetstats.records.serials import read_serials
    from fleetstats.study.declared import declare_study
    from fleetstats.study.study import read_study

    day = dt.datetime.now(dt.UTC).date() if on is None else on.date()
    study = read_study(folder, drawn=False)
    declared = declare_study(study, day, n_serials=len(read_serials(study)[0]))
    text = declared.sentence
    if declared.state == "written":
        text += (
            f"\nDigest of the version: {declared.version.digest}\n"
            "Let somebody else hold the digest: only that shows it was not made later."
        )
    answer(declared.to_dict(), text, as_json=as_json)
