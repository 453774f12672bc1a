"""`fleetstats check`: read and audit the records, and decide about what is odd in them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fleetstats.cli.options import NOT_ENOUGH, answer, folder_argument, output_options
from fleetstats.core.errors import SettingError
from fleetstats.core.pause import collection_paused

if TYPE_CHECKING:
    from fleetstats.study.study import Study

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
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write a workbook with the sheets as supplied, odd cells marked, and a list to decide in.",
)
@click.option(
    "--take",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    help="Take the decisions of such a workbook into mends.csv; no supplied file is changed.",
)
@click.option("--by", default="", help="With --take: the role of decisions that name none.")
@click.option("--untake", type=click.IntRange(min=1), help="Take one line of mends.csv back.")
@output_options
@click.pass_context
def command(
    ctx: click.Context,
    folder: Path,
    fail_on: str,
    out: Path | None,
    take: Path | None,
    by: str,
    untake: int | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Read and audit the records of FOLDER: every finding, and the account of every row."""
    from fleetstats.cli.next_steps import after_book, after_check, tell
    from fleetstats.study.study import read_study

    if sum(x is not None for x in (out, take, untake)) > 1 or (by and take is None):
        raise SettingError(
            "--out, --take and --untake go one at a time, and --by goes with --take.",
            "Write the workbook, fill it in, then take it.",
        )
    study = read_study(folder)
    if out is not None:
        from fleetstats.records.mending.book import write_mend_book

        book = write_mend_book(study, out)
        answer(book.to_dict(), str(book), as_json=as_json)
        tell([after_book(folder, out)], quiet=quiet or as_json)
        return
    done, said = _decide(study, take, by, untake)
    told, text, severities, words, used = _audited(study, quiet=quiet, as_json=as_json)
    answer(done | told, "\n".join([*said, text]), as_json=as_json)
    steps = after_check(folder, severities.count("error"), words=words, used=used)
    tell(steps, quiet=quiet or as_json)
    worst = FAIL_ON[: FAIL_ON.index(fail_on) + 1] if fail_on != "never" else ()
    ctx.exit(NOT_ENOUGH if any(s in worst for s in severities) else 0)


def _decide(
    study: Study, take: Path | None, by: str, untake: int | None
) -> tuple[dict[str, Any], list[str]]:
    """Take decisions, or take one back; return what was done, for JSON and in words."""
    if take is not None:
        from fleetstats.records.mending.book_back import read_mend_book
        from fleetstats.records.mending.take import take_mends

        taken = take_mends(study, read_mend_book(study, take, by=by))
        return {"taken": taken.to_dict()}, [str(taken)]
    if untake is not None:
        from fleetstats.records.mends.log import remove_mend

        gone = remove_mend(study, untake)
        return {"untaken": gone.to_dict()}, [f"Taken back: {gone.where} is read as supplied."]
    return {}, []


@collection_paused()
def _audited(
    study: Study, *, quiet: bool, as_json: bool
) -> tuple[dict[str, Any], str, list[str], bool, bool]:
    """Return the audit for JSON and in words, severities found, if lines are proposed, rows used.

    That for JSON is made only where it is asked for: every finding and hint of a long log is long.
    """
    from fleetstats.records.audit.audit import audit_records
    from fleetstats.records.audit.lines_to_add import lines_to_add
    from fleetstats.records.condition.condition import CONDITION_SHAPES, read_condition
    from fleetstats.records.mends.words import say_mends
    from fleetstats.records.readers import read_records
    from fleetstats.spells.trouble.place import ledger_of

    records = read_records(study)
    audit = audit_records(study, records)
    trouble, left_out = ledger_of(study, records, audit)
    findings, told = list(audit.findings), {}
    if as_json:
        told = audit.to_dict() | {
            "trouble": trouble.to_dict(),
            "left_out": [x.to_dict() for x in left_out],
        }
    text = f"{audit.summary() if quiet else audit}\n{trouble.sentence}"
    if records.mended:
        told["mended"] = [m.to_dict() for m in records.mended]
        text += f"\nBy decision: {say_mends(records.mended)}."
    if study.of_shape(*CONDITION_SHAPES):
        condition = read_condition(study, audit.used)
        findings += condition.findings
        told["condition"] = condition.to_dict()
        text += f"\n{condition!r}" if quiet else f"\n{condition}"
    severities, lines = [f.severity for f in findings], lines_to_add(audit.findings)
    return told, text, severities, bool(lines), audit.n_used > 0
