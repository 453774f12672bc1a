"""`fleetstats compare`: last year's study and this year's."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import answer, output_options, progress, say
from fleetstats.core.units import text_hours
from fleetstats.vocabulary.caution import STANDING_NOTICE


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
    from fleetstats.studies.analyse import read_lives_of
    from fleetstats.studies.compare.attribution import walk_advice
    from fleetstats.studies.compare.declarations import say_declarations
    from fleetstats.studies.compare.document import Side, compose_compare, trouble_sentence
    from fleetstats.studies.compare.engines import KINDS, engine_changes
    from fleetstats.studies.compare.reread import reread
    from fleetstats.studies.compare.year import with_year, year_lines
    from fleetstats.study.study import read_study

    sides, lives = [], []
    with progress(quiet) as stage:
        for folder in (old, new):
            study = read_study(folder)
            stage(f"reading {study.name}")
            records, _, built = read_lives_of(study)
            sides.append(Side(study=study, sources=records.sources, spells=built.spells))
            lives.append(built)
        before, after = sides
        stage("walking from the old advice to the new")
        anew = reread(before.study, after.study)
        walk = walk_advice(
            before.study, before.spells, after.study, after.spells,
            read_anew=None if anew is None else anew.spells,
            trouble="" if anew is None else anew.trouble,
        )  # fmt: skip
        stage("grading last year")
        walk = with_year(walk, before.study, lives[0], after.study, lives[1])
        page = None
        if out is not None:
            stage("writing the report")
            told = f"fleetstats compare {before.study.name} {after.study.name}"
            document = compose_compare(before, after, walk, command=told)
            page = write_report(document, walk, out)
    lines = [walk.sentence, "", f"{'step':44} {'plan from':>10} {'move':>9}  verdict"]
    for step in walk.steps:
        move = "" if step.move_h is None else f"{step.move_h:+,.0f} h"
        lines.append(
            f"{step.what:44} {text_hours(step.figure.plan_from_h):>10} {move:>9}  "
            f"{(step.figure.verdict or step.figure.state).replace('-', ' ')}"
        )
    lines += ["", trouble_sentence(walk)] if walk.trouble else []
    lines += ["", *year_lines(walk)]
    changes = engine_changes(
        before.spells, after.spells, hours_alike=after.study.settings.merge.hours_alike
    )
    odd = [c for c in changes if c.kind not in ("new", "gone")]
    declared = say_declarations(before.study, before.sources, after.study, after.sources)
    lines += ["", *declared] if declared else []
    lines += ["", *(f"{c.key}: {c.before} → {c.after}" for c in walk.settings)]
    lines += [f"{c.unit}: {KINDS[c.kind]}" for c in odd[:20]]
    if len(odd) > 20:
        lines.append(f"and {len(odd) - 20} engines more; --out writes them all")
    if not quiet:
        lines += ["", *STANDING_NOTICE]
    answer(walk.to_dict(), "\n".join(lines), as_json=as_json)
    if page is not None:
        say(f"Report: {page}", quiet=quiet)
