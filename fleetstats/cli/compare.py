"""`fleetstats compare`: last year's study and this year's."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import answer, output_options, progress
from fleetstats.core.caution import STANDING_NOTICE
from fleetstats.core.units import text_hours


@click.command("compare", epilog="Example: fleetstats compare my-club-2025 my-club-2026")
@click.argument("old", type=click.Path(path_type=Path))
@click.argument("new", type=click.Path(path_type=Path))
@output_options
def command(old: Path, new: Path, as_json: bool, quiet: bool) -> None:
    """Say what changed from study OLD to study NEW, and walk from one advice to the other."""
    from fleetstats.decide.analyse import lives_of
    from fleetstats.decide.walk import walk_advice
    from fleetstats.records.study import read_study

    before, after = read_study(old), read_study(new)
    with progress(quiet) as stage:
        stage("walking from the old advice to the new")
        walk = walk_advice(before, lives_of(before).spells, after, lives_of(after).spells)
    lines = [walk.sentence, "", f"{'step':44} {'plan from':>10} {'move':>9}  verdict"]
    for step in walk.steps:
        move = "" if step.move_h is None else f"{step.move_h:+,.0f} h"
        lines.append(
            f"{step.what:44} {text_hours(step.figure.plan_from_h):>10} {move:>9}  "
            f"{step.figure.verdict}"
        )
    lines += ["", *(f"{c.key}: {c.before} → {c.after}" for c in walk.settings)]
    if not quiet:
        lines += ["", *STANDING_NOTICE]
    answer(walk.to_dict(), "\n".join(lines), as_json=as_json)
