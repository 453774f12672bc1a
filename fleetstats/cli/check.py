"""`fleetstats check`: read and audit the records only."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import NOT_ENOUGH, answer, folder_argument, output_options

FAIL_ON = ("error", "warning", "note", "never")


@click.command("check", epilog="Example: fleetstats check my-club --fail-on warning")
@folder_argument
@click.option(
    "--fail-on",
    type=click.Choice(FAIL_ON),
    default="error",
    show_default=True,
    help="Exit with 3 when a finding of this severity or worse is there.",
)
@output_options
@click.pass_context
def command(ctx: click.Context, folder: Path, fail_on: str, as_json: bool, quiet: bool) -> None:
    """Read and audit the records of FOLDER: every finding, and the account of every row."""
    from fleetstats.records.audit.audit import audit_records
    from fleetstats.records.condition.condition import CONDITION_SHAPES, read_condition
    from fleetstats.records.readers import read_records
    from fleetstats.spells.trouble.place import ledger_of
    from fleetstats.study.study import read_study

    study = read_study(folder)
    records = read_records(study)
    audit = audit_records(study, records)
    trouble, left_out = ledger_of(study, records, audit)
    findings, told = list(audit.findings), audit.to_dict()
    told |= {"trouble": trouble.to_dict(), "left_out": [x.to_dict() for x in left_out]}
    text = f"{audit.summary() if quiet else audit}\n{trouble.sentence}"
    if study.of_shape(*CONDITION_SHAPES):
        condition = read_condition(study, audit.used)
        findings += condition.findings
        told["condition"] = condition.to_dict()
        text += f"\n{condition!r}" if quiet else f"\n{condition}"
    answer(told, text, as_json=as_json)
    worst = FAIL_ON[: FAIL_ON.index(fail_on) + 1] if fail_on != "never" else ()
    ctx.exit(NOT_ENOUGH if any(f.severity in worst for f in findings) else 0)
