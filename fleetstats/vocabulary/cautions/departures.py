"""Cautions on settings and decisions that keep what tells of a failure from being counted."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, SECOND, Case, caution_entry

DEPARTURES = (
    caution_entry(
        "failing-word-mapped",
        FIRST,
        "A setting of the study keeps what tells of a failure from being counted as one.",
        cure="Ask the sender what the word means, or look at those engines by hand; take the map "
        "out if they failed.",
        cases={
            "ending": Case(
                "records",
                "A map of the study file reads “{word}” of {file} as {ours}: {n} that would count "
                "as {what} by the word itself {do_does} not.",
                proviso="{n} written “{word}” {is_are} read as {ours}",
            ),
            "cause": Case(
                "records",
                "A map of the study file reads the cause “{word}” of {file} as {ours}: {n} that "
                "would count as {what} by the word itself {do_does} not.",
                proviso="{n} of cause “{word}” {is_are} read as {ours}",
            ),
            "column": Case(
                "records",
                "A map of the study file takes {ours} of {file} from another column than the one "
                "of that name: {n} of the column not read {tells} of {what}.",
                proviso="{n} of a column not read {tells} of {what}",
            ),
            "many": Case(
                "records",
                "Maps of the study file read {words} and {more} as what is no failure: {n} that "
                "would count as failures or findings by the words themselves {do_does} not.",
                proviso="{n} with words of failure {is_are} read as none",
            ),
            "rule": Case(
                "question",
                "Rule {i} of the question (“{reason}”) keeps {n} from being counted as {what}.",
                proviso="{n} that failed {is_are} left out by a rule",
            ),
            "causes": Case(
                "question",
                "The question names its causes: {n} from a cause that it does not name ({causes}) "
                "would count as {what} by default and {do_does} not.",
                proviso="{n} that failed from other causes {do_does} not count",
            ),
            "censoring": Case(
                "question",
                "The study adds causes to those that say nothing of the engine's own life: {n} "
                "that would count as {what} {is_are} censored for {it_them}.",
                proviso="{n} that failed {is_are} censored for the cause",
            ),
            "outside": Case(
                "question",
                "The study adds causes to those outside the engine: {n} that would count as "
                "{what} {do_does} not.",
                proviso="{n} that failed {is_are} counted as outside the engine",
            ),
            "unknown-cause": Case(
                "question",
                "The study counts a failure of unknown cause as one that is not in question: {n} "
                "that would count as {what} {do_does} not.",
                proviso="{n} of unknown cause {is_are} not counted",
            ),
            "together": Case(
                "question",
                "Settings of the question that turn no ending by themselves do so together: {n} "
                "that would count as {what} with all of them at their defaults {do_does} not.",
                proviso="{n} that failed {is_are} not counted for several settings together",
            ),
        },
    ),
    caution_entry(
        "failure-mended-away",
        FIRST,
        "Rows that tell of a failure as supplied do not as they are read, by decision.",
        cure="Read the reason of each in the table of mends, and ask for the paper that it rests "
        "on; take the mend back (fleetstats check --untake) where there is none.",
        cases=Case(
            "records",
            "{n} that {tells} of a failure as supplied {do} not as read, by decision: {which}.",
            proviso="{n} that {tells} of a failure {do} not count, by decision",
        ),
    ),
    caution_entry(
        "failure-mended",
        SECOND,
        "Decisions change whether, when or of what rows tell of a failure.",
        cure="Read the reason of each in the table of mends.",
        cases=Case("records", "By decision {effects}: {which}."),
    ),
)
