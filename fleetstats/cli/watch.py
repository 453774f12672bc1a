"""`fleetstats watch`: the months between studies, on one screen."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click

from fleetstats.cli.history import history_option, note_look
from fleetstats.cli.options import (
    NOT_ENOUGH,
    answer,
    folder_argument,
    full_text,
    output_options,
    progress,
)

LOOK_AT = ("look", "alarm", "never")


@click.command("watch", epilog="Example: fleetstats watch my-club --from 2025-03-31")
@folder_argument
@click.option("--from", "since", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE",
              help="Last day of the years that it is held against.  [default: the last study's "
              "date, else a year before the last date]")  # fmt: skip
@click.option("--on", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE",
              help="Day up to which is looked.  [default: the records' last date]")  # fmt: skip
@click.option("--months", type=click.FloatRange(1, 120), default=12.0, show_default=True,
              help="Planned length of the watch.")  # fmt: skip
@click.option("--fail-on", type=click.Choice(LOOK_AT), default="look", show_default=True,
              help="Exit with 3 from this state on.")  # fmt: skip
@history_option
@output_options
@click.pass_context
def command(
    ctx: click.Context,
    folder: Path,
    since: dt.datetime | None,
    on: dt.datetime | None,
    months: float,
    fail_on: str,
    no_history: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Say whether failures come faster than the years before let expect: quiet, look or alarm.

    Reads the records of FOLDER as they are now, with rows that were added since its last study.
    Exits with 0 while all is quiet, with 3 from the state on that --fail-on names.
    """
    from fleetstats.studies.watch import watch_fleet
    from fleetstats.studies.watch.look import look_of_watch
    from fleetstats.studies.watch.values import STATES
    from fleetstats.study.study import read_study

    with progress(quiet) as stage:
        stage("reading the records")
        study = read_study(folder)
        watch = watch_fleet(
            study,
            since=None if since is None else since.date(),
            on=None if on is None else on.date(),
            months=months,
        )
    text = watch.sentence if quiet else full_text(str(watch))
    answer(watch.to_dict() | {"state": watch.state}, text, as_json=as_json)
    if not no_history:
        note_look(study.folder, look_of_watch(study, watch), quiet=quiet)
    stop = fail_on != "never" and STATES.index(watch.state) >= STATES.index(fail_on)
    ctx.exit(NOT_ENOUGH if stop else 0)
