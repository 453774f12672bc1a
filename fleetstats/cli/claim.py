"""`fleetstats claim`: what may honestly be said of these records at given hours."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.history import history_option, note_look
from fleetstats.cli.options import (
    NOT_ENOUGH,
    answer,
    folder_argument,
    full_text,
    output_options,
    since_option,
)


@click.command("claim", epilog="Example: fleetstats claim my-club --hours 1500 --reliability 0.95")
@folder_argument
@click.option("--hours", type=float, help="Claimed hours.  [default: the study's]")
@click.option("--reliability", type=float, help="Share that should reach them, within 0 to 1.")
@history_option
@since_option
@output_options
@click.pass_context
def command(
    ctx: click.Context,
    folder: Path,
    hours: float | None,
    reliability: float | None,
    no_history: bool,
    since: str,
    as_json: bool,
    quiet: bool,
) -> None:
    """Say what the records of FOLDER support at given hours, and what may not be said."""
    from fleetstats.chapters.between_sources import advise_sources
    from fleetstats.chapters.claim import advise_claim, qualify_claim, write_brochure
    from fleetstats.chapters.looks_made import look_of_claim
    from fleetstats.cli.next_steps import after_claim, tell
    from fleetstats.studies.single import cautions_at, read_base
    from fleetstats.study.since import with_since
    from fleetstats.study.study import read_study

    study = read_study(folder)
    study = with_since(study, since) if since else study
    base = read_base(study)
    study = base.study  # it knows of earlier looks
    claim = advise_claim(
        base.spells, study.settings, hours, reliability, fit=base.fit, asserted=base.built.asserted
    )
    found = cautions_at(base, claim.hours, reliability=reliability)
    claim = qualify_claim(claim, study.settings, found)
    brochure = write_brochure(claim, study.settings)
    sources = advise_sources(base.spells, study.settings, claim.hours, claim.target)
    text = "\n".join([repr(claim), *([str(sources)] if sources else []), *brochure.lines()])
    text = text if quiet else full_text(text, found)
    told = claim.to_dict() | {"brochure": brochure.to_dict()}
    told |= {"sources": None if sources is None else sources.to_dict()}
    told |= {"cautions": [c.to_dict() for c in found]}
    answer(told, text, as_json=as_json)
    if not no_history:
        look = look_of_claim(study, base.records.sources, base.spells, claim)
        note_look(study.folder, look, quiet=quiet)
    steps = after_claim(folder, claim.state, claim.hours, reliability=reliability, since=since)
    tell(steps, quiet=quiet or as_json)
    ctx.exit(0 if claim.state == "supported" else NOT_ENOUGH)
