"""What the verbs of one chapter share: run what it needs, print it, exit by its answer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from fleetstats.cli.options import (
    NOT_ENOUGH,
    answer,
    at_option,
    folder_argument,
    full_text,
    output_options,
    progress,
    say,
)

if TYPE_CHECKING:
    from fleetstats.chapters.chapter import Chapter
    from fleetstats.core.value import Value
    from fleetstats.study.study import Study


SHOWN_FINDINGS = 10
"""Findings that a verb shows on stderr; the rest is for `fleetstats check`."""

F = TypeVar("F", bound=Callable[..., Any])


def csv_option(function: F) -> F:
    """Add --csv FOLDER."""
    return click.option(
        "--csv",
        type=click.Path(path_type=Path, file_okay=False),
        help="Write the tables of the answer as CSV files into this folder.",
    )(function)


def chapter_command(name: str) -> click.Command:
    """Return the verb that answers one chapter's question, as the registry describes it."""
    from fleetstats.chapters.registry import CHAPTERS

    chapter = next(c for c in CHAPTERS.values() if c.verb is not None and c.verb.name == name)
    verb = chapter.verb
    assert verb is not None
    option = verb.option

    @click.command(
        name, help=verb.says, epilog=f"Example: fleetstats {name} my-club {verb.example}"
    )
    @folder_argument
    @csv_option
    @output_options
    @click.pass_context
    def command(
        ctx: click.Context,
        folder: Path,
        csv: Path | None,
        as_json: bool,
        quiet: bool,
        given: float | None = None,
        at: tuple[str, ...] = (),
    ) -> None:
        change = None if option is None or given is None else (option.table, option.key, given)
        run_chapter(
            ctx,
            folder,
            chapter,
            verb.missing,
            as_json=as_json,
            quiet=quiet,
            csv=csv,
            change=change,
            at=at,
        )

    if verb.at:
        command = at_option(command)

    if option is not None:
        command.params.insert(
            1,
            click.Option(
                [option.flag, "given"], type=float, help=f"{option.help}  [default: the study's]"
            ),
        )
    return command


def run_chapter(
    ctx: click.Context,
    folder: Path,
    chapter: Chapter,
    missing: str,
    *,
    as_json: bool,
    quiet: bool,
    csv: Path | None = None,
    change: tuple[str, str, float] | None = None,
    at: tuple[str, ...] = (),
) -> None:
    """Run a chapter and what it needs, and write its answer.

    `missing` is the sentence for a study that has nothing for the chapter; the exit code is then
    that of "not enough evidence". With `csv`, each table of its section is written there. `change`
    names a table, a key and a value that stand in place of the study's; `at` values of covariates,
    each "name=value", at which the answer is given.
    """
    from fleetstats.studies.single import run_single
    from fleetstats.study.study import read_study

    study = read_study(folder)
    if change is not None:
        study = _changed(study, *change)
    if at:
        from fleetstats.chapters.covariates import with_asked

        study = with_asked(study, at)
    with progress(quiet) as stage:
        done = run_single(study, (chapter.key,), stage, lambda told: say(told, quiet=quiet))
    _tell_rows(done, quiet=quiet)
    value: Value | None = done.get(chapter.key)
    if value is None:
        answer({"schema": "fleetstats/nothing/1", "answer": missing}, missing, as_json=as_json)
        ctx.exit(NOT_ENOUGH)
    text = str(value) if quiet else full_text(str(value), getattr(value, "cautions", ()))
    answer(value.to_dict(), text, as_json=as_json)
    if csv is not None:
        from fleetstats.report.chapter_tables import write_chapter_tables

        for path in write_chapter_tables(chapter.key, done, csv):
            say(f"wrote {path}")
    said = {getattr(value, name, "") for name in ("verdict", "state")}
    ctx.exit(NOT_ENOUGH if "not-enough-evidence" in said else 0)


def _tell_rows(done: dict[str, Value], *, quiet: bool) -> None:
    """Say on stderr which rows of checks and readings were set aside, or do not match."""
    from fleetstats.records.condition.condition import Condition

    condition = done.get("condition")
    if not isinstance(condition, Condition) or not (condition.n_set_aside or condition.findings):
        return
    shown = [f for f in condition.findings if f.severity != "note"]
    for reading in condition.readings:
        say(str(reading), quiet=quiet)
    for finding in shown[:SHOWN_FINDINGS]:
        say(f"  {finding}", quiet=quiet)
    if len(shown) > SHOWN_FINDINGS:
        say(f"  and {len(shown) - SHOWN_FINDINGS} more: fleetstats check", quiet=quiet)


def _changed(study: Study, table: str, key: str, value: float) -> Study:
    """Return the study with one setting replaced, within the setting's own limits."""
    from dataclasses import fields, replace

    from fleetstats.core.errors import SettingError
    from fleetstats.study.schema import limits

    keys = getattr(study.settings, table)
    problem = limits(value, next(f.metadata for f in fields(keys) if f.name == key))
    if problem:
        raise SettingError(f"{table}.{key} = {value:g}: {problem}")
    settings = replace(study.settings, **{table: replace(keys, **{key: value})})
    return replace(study, settings=settings)
