"""`fleetstats portfolio`: many component families, ranked."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleetstats.cli.options import (
    NOT_ENOUGH,
    NOT_HELD,
    answer,
    crew_of,
    folder_argument,
    memory_option,
    output_options,
    progress,
    report_folder,
    report_option,
    say,
    work_options,
)
from fleetstats.core.child import status_of
from fleetstats.core.units import text_hours
from fleetstats.vocabulary.caution import STANDING_NOTICE

if TYPE_CHECKING:
    from collections.abc import Callable

    from fleetstats.core.crew import Crew
    from fleetstats.portfolio.ranking import Portfolio, Ranked
    from fleetstats.records.split_families import Family, FamilyList

SHOWN = 25
"""Families printed; the report has all."""

CALL = "fleetstats portfolio"
RANKING = "ranking"


@click.command("portfolio", epilog="Example: fleetstats portfolio parts --page 'crank bearing'")
@folder_argument
@report_option
@click.option("--page", "names", multiple=True, metavar="FAMILY",
              help="Write this family's own report as well; may be given many times.")  # fmt: skip
@click.option("--pages", "every", is_flag=True, help="Write every family's own report.")
@click.option("--false-discovery", "share", type=click.FloatRange(0, 1, True, True),
              help="Share of false alarms accepted among families called worse.  "
              "[default: the study file's, or 0.1]")  # fmt: skip
@click.option("--again", is_flag=True, help="Do finished families again as well.")
@memory_option
@work_options
@output_options
@click.pass_context
def command(
    ctx: click.Context,
    folder: Path,
    out: Path | None,
    names: tuple[str, ...],
    every: bool,
    share: float | None,
    again: bool,
    memory: str,
    workers: int | None,
    scheduler: str,
    as_json: bool,
    quiet: bool,
) -> None:
    """Study every family of FOLDER and rank them; finished families are kept for the next run.

    FOLDER holds study folders, or is a study whose [portfolio] names the family column of its
    table. Exit code 1 means that some family has no answer; the ranking of the rest is written.
    """
    from fleetstats.core.memory import held_to
    from fleetstats.portfolio.document import compose_portfolio
    from fleetstats.portfolio.pages import choose_families
    from fleetstats.portfolio.ranking import run_portfolio
    from fleetstats.portfolio.store import keep_row, read_kept
    from fleetstats.records.split_families import read_portfolio
    from fleetstats.report.write import write_report

    crew, call = crew_of(workers, scheduler), f"{CALL} {folder}"
    bound = _bound(memory, 1 if scheduler else crew.workers)
    with progress(quiet) as stage:
        out = _place(out, Path(folder))  # before the work, not after it
        stage("reading the records")
        families = read_portfolio(folder)
        pages = families.families if every else choose_families(families, names)
        share = _share(families) if share is None else share
        done, n = 0, len(families.families)

        def told(i: int) -> None:
            nonlocal done
            done = i
            stage(f"family {i:,} of {n:,}")

        try:
            with held_to(bound) as held:
                if bound and not held:
                    say(NOT_HELD, quiet=quiet)
                portfolio = run_portfolio(
                    families,
                    crew=crew,
                    kept={} if again else read_kept(out),
                    keep=lambda row: keep_row(out, row),
                    told=told,
                    share=share,
                )
            slugs = _write_pages(pages, out, crew, stage, call)
            stage("writing the ranking")
            document = compose_portfolio(portfolio, families, command=call, pages=slugs)
            page = write_report(document, portfolio, out / RANKING)
        except KeyboardInterrupt as stop:
            _say_stopped(done, n, out / "kept")
            ctx.exit(status_of(stop))
    answer(portfolio.to_dict(), _text(portfolio, quiet=quiet), as_json=as_json)
    say(f"Report: {page}", quiet=quiet)
    ctx.exit(_code(portfolio, pages_missing=len(slugs) < len(pages)))


def _place(out: Path | None, folder: Path) -> Path:
    """Return the folder of the ranking and its pages; refuse one that they must not go to."""
    from fleetstats.report.place import check_folder, check_place

    out = report_folder(out, folder)
    check_folder(out)
    check_place(out / RANKING)
    return out


def _bound(memory: str, workers: int) -> int | None:
    """Return the bytes that each process may take; workers stand beside the one that asks them."""
    from fleetstats.core.memory import read_memory

    return read_memory(memory, processes=workers + (workers > 1)) if memory else None


def _share(families: FamilyList) -> float:
    """Return the share of false alarms that the study of the families accepts."""
    own = families.study
    return own.settings.portfolio.false_discovery if own is not None else 0.10


def _say_stopped(done: int, n: int, kept: Path) -> None:
    say(
        f"Stopped. {done:,} of {n:,} families are kept in {kept}; the same command goes on from "
        "there. No ranking was written.",
        quiet=False,
    )


def _write_pages(
    chosen: tuple[Family, ...], out: Path, crew: Crew, stage: Callable[[str], None], command: str
) -> tuple[str, ...]:
    """Write the reports of some families; return the slugs of those that are there now."""
    from fleetstats.core.crew import do_work
    from fleetstats.portfolio.pages import PageTask, is_written, lose_page, write_page

    root = out.resolve()
    tasks = [PageTask(family=f, folder=root, command=f"{command} --page {f.slug}") for f in chosen]
    left = [t for t in tasks if not is_written(t)]
    there = {t.family.slug for t in tasks} - {t.family.slug for t in left}
    stage(f"page {len(there):,} of {len(tasks):,}")
    for _, page in do_work(write_page, left, crew, on_lost=lose_page):
        if page.problem:
            say(f"No page for '{page.family}': {page.problem}")
        else:
            there.add(page.slug)
        stage(f"page {len(there):,} of {len(tasks):,}")
    return tuple(sorted(there))


def _text(p: Portfolio, *, quiet: bool) -> str:
    lines = [*p.sentences, ""]
    lines.append(
        f"{'rank':>4}  {'family':24} {'lives':>7} {'failed':>6}  {'year on year':>12}  "
        f"{'plan from':>15}  claim"
    )
    for r in [r for r in p.ranked if r.row.done][:SHOWN]:
        year = r.row.year
        ratio = "–" if year is None or year.ratio is None else f"x {year.ratio:.3g}"
        ratio = "none before" if ratio == "x inf" else ratio
        lines.append(
            f"{r.rank:4}  {r.row.family[:24]:24} {r.row.n_lives:7,.0f} {r.row.n_failed:6,.0f}  "
            f"{ratio + (' *' if r.worse else ''):>12}  {_from(r):>15}  "
            f"{(r.row.verdict or 'none').replace('-', ' ')}"
            f"{f' ({r.row.n_left_out:,} more failures left out)' if r.row.n_left_out else ''}"
        )
    n_done = sum(r.row.done for r in p.ranked)
    if any(r.row.band_state == "evidence-limit" for r in p.ranked):
        lines.append("held to: no overhaul age is advised; the targets hold to those hours")
    if n_done > SHOWN:
        lines.append(f"      and {n_done - SHOWN:,} more, in the report")
    if any(r.worse for r in p.ranked):
        lines.append("* called worse than the year before")
    lines += [f"No answer: {x.family}: {x.message.splitlines()[0]}" for x in p.without_answer[:10]]
    if not quiet:
        lines += ["", *STANDING_NOTICE]
    return "\n".join(lines)


def _from(r: Ranked) -> str:
    """Say from which hours overhaul is to be planned; without wear-out, to which targets hold."""
    if r.row.band_state == "evidence-limit":
        return f"held to {text_hours(r.row.plan_from_h)}"
    return text_hours(r.row.plan_from_h) if r.row.band_state == "answered" else "no age"


def _code(p: Portfolio, *, pages_missing: bool) -> int:
    if p.without_answer or pages_missing:
        return 1
    shown = ("answered", "evidence-limit", "target-not-shown")
    return 0 if any(r.row.band_state in shown for r in p.ranked) else NOT_ENOUGH
