"""Departures from the defaults, whole: each with what it changed; then what else is stated."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.departures.compute import PART
from fleetstats.chapters.departures.values import DepartureList
from fleetstats.chapters.departures.words import NONE_TURNS, every_line, how_many, short_lines
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of


def chosen_lines(results: Results) -> tuple[str, ...]:
    """Return what was chosen, in short, for the first page."""
    told = results.chapters.get("departures")
    if not isinstance(told, DepartureList):
        return ()
    return short_lines(told.items, point("departures", otherwise="the report"))


def departure_lines(results: Results) -> tuple[str, ...]:
    """Return every departure in one line, those first that can turn the verdict."""
    told = results.chapters.get("departures")
    if not isinstance(told, DepartureList):
        return ()
    lines = every_line(told.items)
    return lines if any(d.turns for d in told.items) else (NONE_TURNS, *lines)


def compose_departures(results: Results) -> Section | None:
    """Return the departures and the other settings that the study file states."""
    told = results.chapters.get("departures")
    if not isinstance(told, DepartureList):
        return None
    blocks: list[Block] = [say(_how_many(told))]
    if told.items:
        blocks.append(
            table_of(
                told.items,
                key="departures",
                title="Each departure, and what it changed",
                columns=(
                    col("key", "Setting", lambda d: d.key),
                    col("value", "Chosen", lambda d: d.value),
                    col("default", "By default", lambda d: d.default),
                    col("effect", "What it changed", lambda d: d.effect),
                    col(
                        "turns",
                        "Verdict",
                        lambda d: "yes" if d.turns else "no",
                        help="Whether it can turn the verdict on a claim.",
                    ),
                    col("file", "File", lambda d: d.file),
                ),
                see="Counts are of rows or lives in these records. Where nothing is said of what "
                "it changed, it changes no count, but what is computed. The column “Verdict” says "
                "whether it can turn the verdict on a claim.",
                uncut=True,
            )
        )
    blocks.append(
        table_of(
            told.stated,
            key="settings-stated",
            title="What else the study file states",
            columns=(
                col("key", "Setting", lambda x: x.key),
                col("value", "Value", lambda x: x.value),
                col("why", "No departure", lambda x: x.why),
                col("doc", "Meaning", lambda x: x.doc),
            ),
            see="With the departures these are all settings that the study file chose.",
            uncut=True,
        )
    )
    return Section(key="departures", title=PART, blocks=tuple(blocks))


def _how_many(told: DepartureList) -> str:
    if not told.items:
        return "No setting differs from its documented default but what is asked and known."
    n, turning = len(told.items), len(told.turning)
    can = "none of them can turn a verdict" if not turning else (
        f"{turning:,} of them can turn a verdict, by what counts, how records are read, how sure "
        "the answer must be or what is believed beforehand"
    )  # fmt: skip
    return (
        f"{how_many(told.items)} {'differs' if n == 1 else 'differ'} from the documented defaults; "
        f"{can}. Titles, dates, names of files, the claim and what is known of the fleet are the "
        "question, no departures."
    )
