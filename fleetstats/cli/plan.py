"""`fleetstats plan`: what further evidence would show more."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import (
    answer,
    folder_argument,
    full_text,
    output_options,
)


@click.command("plan", epilog="Example: fleetstats plan my-club --hours 1500 --engines 30")
@folder_argument
@click.option("--hours", type=float, help="Hours to be shown.  [default: the study's claim]")
@click.option("--reliability", type=float, help="Share that should reach them, within 0 to 1.")
@click.option("--failures", type=click.IntRange(min=0), default=0, show_default=True,
              help="Further failures that the plan allows for.")  # fmt: skip
@click.option("--engines", type=click.IntRange(min=1), default=30, show_default=True,
              help="Engines that are compared: new ones, or the oldest run on.")  # fmt: skip
@click.option("--run-to", "run_to_h", type=float, help="Hours to which they run.")
@output_options
def command(
    folder: Path,
    hours: float | None,
    reliability: float | None,
    failures: int,
    engines: int,
    run_to_h: float | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Say how many further hours or engines of FOLDER would show the reliability asked for."""
    from fleetstats.studies.single import cautions_at, plan_at, read_base
    from fleetstats.study.study import read_study

    base = read_base(read_study(folder))
    plan = plan_at(
        base,
        hours=hours,
        reliability=reliability,
        failures=failures,
        engines=engines,
        run_to_h=run_to_h,
    )
    found = cautions_at(base, plan.hours, plan)
    text = str(plan) if quiet else full_text(str(plan), found)
    told = plan.to_dict() | {"cautions": [c.to_dict() for c in found]}
    answer(told, text, as_json=as_json)
