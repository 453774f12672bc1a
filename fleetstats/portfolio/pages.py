"""A family's own report, on demand: the whole study of its rows, as any other study's."""

from __future__ import annotations

from pathlib import Path

from fleetstats.chapters.compose import compose_checked
from fleetstats.core.errors import FleetstatsError, SettingError
from fleetstats.core.files import write_whole
from fleetstats.core.value import Value, value
from fleetstats.portfolio.store import FOLDER
from fleetstats.records.split_families import Family, FamilyList
from fleetstats.report.write import PAGE, write_report
from fleetstats.studies.analyse import analyse
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.nearest import did_you_mean

PAGES = "pages"


@value
class PageTask(Value):
    """A page to write: the family, the portfolio's folder, and the command that makes it again."""

    family: Family
    folder: Path
    command: str


@value
class PageDone(Value):
    """What became of a page; `problem` is empty when it was written or was there already."""

    family: str
    slug: str
    problem: str = ""


def choose_families(families: FamilyList, names: tuple[str, ...]) -> tuple[Family, ...]:
    """Return the families that are named, by name or by slug.

    Raises
    ------
    SettingError
        If there is no such family; the message names the nearest.
    """
    by_name = {fold(f.name): f for f in families.families} | {f.slug: f for f in families.families}
    out = []
    for name in names:
        family = by_name.get(name) or by_name.get(fold(name))
        if family is None:
            near = did_you_mean(name, [f.name for f in families.families])
            raise SettingError(f"There is no family '{name}'.", near[:300])
        out.append(family)
    return tuple({f.slug: f for f in out}.values())


def is_written(task: PageTask) -> bool:
    """Return whether the page is there, made from the same rows and settings."""
    mark = _mark(task)
    page = task.folder / PAGES / task.family.slug / PAGE
    try:
        return page.is_file() and mark.read_text("utf-8").strip() == task.family.digest
    except (OSError, ValueError):
        return False


def write_page(task: PageTask) -> PageDone:
    """Write a family's report into ``pages/SLUG`` of the portfolio's folder.

    Whatever goes wrong is told in the result, so that one page never stops the others.
    """
    family = task.family
    if family.study is None:
        return PageDone(family=family.name, slug=family.slug, problem=family.problem)
    try:
        results = analyse(family.study, command=task.command, opened=family.opened)
        place = task.folder / PAGES / family.slug
        results, document = compose_checked(results)
        write_report(document, results, place)
        mark = _mark(task)
        mark.parent.mkdir(parents=True, exist_ok=True)
        write_whole(mark, family.digest + "\n")
    except FleetstatsError as e:
        return PageDone(family=family.name, slug=family.slug, problem=str(e))
    except Exception as e:
        return PageDone(family=family.name, slug=family.slug, problem=f"{type(e).__name__}: {e}")
    return PageDone(family=family.name, slug=family.slug)


def lose_page(task: PageTask) -> PageDone:
    """Return what is said of a page that took its worker with it."""
    return PageDone(family=task.family.name, slug=task.family.slug,
                    problem="The worker ended without an answer.")  # fmt: skip


def _mark(task: PageTask) -> Path:
    return task.folder / FOLDER / f"{task.family.slug}.page"
