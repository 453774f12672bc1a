"""`fleetstats stress`: how often a claim would be made wrongly, were lives not as assumed."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import (
    answer,
    crew_of,
    folder_argument,
    full_text,
    output_options,
    progress,
    say,
    work_options,
)


@click.command("stress", epilog="Example: fleetstats stress my-club --fleets 400 --workers 2")
@folder_argument
@click.option("--fleets", type=click.IntRange(1, 100_000),
              help="Fleets made up under each truth.  [default: the study's, or 400]")  # fmt: skip
@click.option("--seed", type=click.IntRange(0),
              help="Seed of the draws.  [default: the study's]")  # fmt: skip
@click.option("--csv", type=click.Path(path_type=Path, file_okay=False),
              help="Write the table as a CSV file into this folder.")  # fmt: skip
@work_options
@output_options
def command(
    folder: Path,
    fleets: int | None,
    seed: int | None,
    csv: Path | None,
    workers: int | None,
    scheduler: str,
    as_json: bool,
    quiet: bool,
) -> None:
    """Try the claim of FOLDER on made-up fleets of its own design, under a dozen truths.

    Each truth is scaled so that the claim is just not true; the answer says how often it would
    have been called supported. A what-if under stated truths, no proof.
    """
    from dataclasses import replace

    from fleetstats.chapters.stress import stress_claim, stress_lines, with_stress
    from fleetstats.studies.costs import say_tasks, stress_seconds
    from fleetstats.studies.single import read_base
    from fleetstats.study.study import read_study

    study = with_stress(read_study(folder))
    settings = study.settings
    if seed is not None:
        settings = replace(settings, study=replace(settings.study, seed=seed))
    with progress(quiet) as stage:
        stage("reading the records")
        base = read_base(study)
        n, crew = settings.stress.fleets if fleets is None else fleets, crew_of(workers, scheduler)
        each = stress_seconds(len(base.spells))
        if told := say_tasks(f"studying {n:,} made-up fleets", n, each, crew.workers):
            say(told, quiet=quiet)
        stress = stress_claim(
            base.spells,
            base.built.rows,
            base.fit,
            settings,
            fleets=n,
            crew=crew,
            told=lambda done, n: stage(f"made-up fleets, part {done:,} of {n:,}"),
        )
    lines = "\n".join(stress_lines(stress))
    answer(stress.to_dict(), stress.sentence if quiet else full_text(lines), as_json=as_json)
    if csv is not None:
        from fleetstats.report.chapter_tables import write_chapter_tables

        for path in write_chapter_tables("stress", {"stress": stress}, csv):
            say(f"wrote {path}")
