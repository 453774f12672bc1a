"""The condition-check programme: interval, limits, findings so far, blind spots."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.checks.compliance import Compliance
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section, Table
from fleetstats.document.glossary import explain
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of
from fleetstats.spells.days.since import NOT_COUNTED
from fleetstats.vocabulary.wording import count, listed


def compose_checks(results: Results) -> Section:
    """Return what the checks are, what they found, and which causes they cannot see."""
    c = results.settings.check
    found, removed, failed = (
        sum(e.n for e in results.built.endings
            if e.ending == ending and e.counts_as not in NOT_COUNTED)
        for ending in ("found-at-check", "removed-finding", "failed")
    )  # fmt: skip
    blocks: list[Block] = [
        say(
            f"Engines are checked each {c.interval_h:g} h. "
            f"{count(found, 'life', 'lives').capitalize()} ended by a fault found at a check, "
            f"{count(removed, 'life', 'lives')} on a finding and "
            f"{count(failed, 'life', 'lives')} by a failure that came without either."
        ),
        explain("conditional"),
        say(
            f"A check is taken to find a fault that is there with a chance of "
            f"{100 * c.detection:g} %. What the records show of that: "
            + point("check-interval", otherwise="nothing, for want of records of checks")
            + ".",
            "assumption",
        ),
    ]
    if c.undetectable_causes:
        blocks.append(
            say(
                f"The checks cannot see {listed(list(c.undetectable_causes))} coming. An argument "
                "from condition does not cover these causes.",
                "caution",
            )
        )
    else:
        blocks.append(
            say(
                "The study names no cause that the checks cannot see. If there is one, an argument "
                "from condition does not cover it.",
                "missing",
            )
        )
    blocks.append(
        say(
            "Limits for readings are those of the engine's manual. Where a default limit is used, "
            "it holds only if the maker gives none.",
            "assumption",
        )
    )
    done = results.chapters.get("compliance")
    if isinstance(done, Compliance):
        blocks += [say(done.sentence, "caution" if done.cautions else "fact"), due_table(done)]
    else:
        blocks.append(
            say(
                "These records do not show that every check due was done. An inspector will ask "
                "for that list.",
                "missing",
            )
        )
    return Section(key="checks", title="Condition checks", blocks=tuple(blocks))


def due_table(done: Compliance) -> Table:
    """Return checks due, done and found for each engine, most late gaps first."""
    return table_of(
        done.engines,
        key="checks-due",
        title="Checks due and done",
        columns=(
            col("engine", "Engine", lambda e: e.engine),
            col("watched_h", "Hours watched", lambda e: e.watched_h, "hours"),
            col("due", "Due", lambda e: e.due, "count"),
            col("done", "Done", lambda e: e.done, "count"),
            col("late", f"Gaps over {done.allowed_h:g} h", lambda e: e.late, "count"),
            col("longest_h", "Longest gap", lambda e: e.longest_h, "hours"),
            col("since_last_h", "Since the last", lambda e: e.since_last_h, "hours"),
            col("found", "Faults found", lambda e: e.found, "count"),
        ),
        see=(
            f"A check counts as late past {done.allowed_h:g} h, a tenth more than the interval; "
            "that tolerance is common practice, not the programme's."
        ),
        folded=True,
    )
