"""Cautions on ends that were not counted as failures, and on sources that cannot be right."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, SECOND, Case, caution_entry

_COME_WITH_AGE = (
    "{what} come with age, as wear-out does: {shape} (chance {p} if they came at any age alike, "
    "held over all kinds)"
)
_PAPERS = "Ask for the papers of each before they are taken for what they are called."

CENSORING = (
    caution_entry(
        "aged-removals",
        FIRST,
        "Removals that should be random come with age, and counted as failures they turn the "
        "answer.",
        cure="Ask for the shop's papers of each, the oldest and the youngest first.",
        cases={
            "turns": Case(
                "removals",
                _COME_WITH_AGE + ". If {to_turn} of them were failures, the claim would not be "
                "supported. " + _PAPERS,
                ("HONEST_P", "LEAST_OF_KIND"),
                "{what} come with age, as failures do",
            ),
            "no-claim": Case(
                "removals",
                _COME_WITH_AGE + ". If all of them were failures, the records would show the "
                "target reliability to {hours_all} and not to {hours}. " + _PAPERS,
                ("HONEST_P", "LEAST_OF_KIND"),
            ),
        },
    ),
    caution_entry(
        "aged-removals-kept",
        SECOND,
        "Removals that should be random come with age; no verdict hangs on them.",
        cure="Ask for the shop's papers of each, the oldest and the youngest first.",
        cases=Case(
            "removals",
            _COME_WITH_AGE + ". The verdict stands whether they were failures or not; hours and "
            "bands do not. " + _PAPERS,
            ("HONEST_P", "LEAST_OF_KIND"),
        ),
    ),
    caution_entry(
        "removals-of-one-source",
        SECOND,
        "One source has many more removals of a kind than the others at equal ages.",
        cure="Ask that source what it calls so, and the others too.",
        cases=Case(
            "removals",
            "{source} tells {what} where {expected} were expected at the rate of the other "
            "sources at equal ages (chance {p}, held over all kinds). Either its use is another, "
            "or it calls so what others call failures.",
            ("HONEST_P", "LEAST_OF_KIND"),
        ),
    ),
    caution_entry(
        "early-overhauls",
        SECOND,
        "Planned overhauls came well before the claimed hours, and as failures they turn the "
        "verdict.",
        cure="Ask why each was done early: the calendar, an owner's wish, or something found.",
        cases=Case(
            "removals",
            "{what} came before {early} of the claimed hours. An overhaul done early because "
            "something was wrong is a failure prevented or not told. If {to_turn} of them were "
            "failures, the claim would not be supported.",
            ("BEFORE_CLAIM",),
        ),
    ),
    caution_entry(
        "silent-source",
        FIRST,
        "A source tells fewer failures than can be, were its engines like the others.",
        cure="Ask whether it tells of failures at all; leave it out if it does not (a rule of "
        'the question with counts_as = "excluded").',
        cases={
            "": Case(
                "sources",
                "{source} told no failure where {expected} were expected at the rate of the other "
                "sources at equal ages (chance {p}, held over all sources). If it does not tell of "
                "failures, its hours are no evidence; the answer without it stands beside.",
                ("HONEST_P",),
                "{source} told no failure where {expected} were expected",
            ),
            "fewer": Case(
                "sources",
                "{source} told {failures} where {expected} were expected at the rate of the other "
                "sources at equal ages: at most {share} as many (chance {p}, held over all "
                "sources). If it leaves out failures, its hours are no fair evidence; the answer "
                "without it stands beside.",
                ("HONEST_P", "FAR_FEWER"),
                "{source} told {failures} where {expected} were expected",
            ),
        },
    ),
    caution_entry(
        "all-failed-source",
        FIRST,
        "Every engine of a source failed, as those of the others did not.",
        cure="Ask it for its engines that run or were removed in good order.",
        cases=Case(
            "sources",
            "All {engines} of {source} failed; of the others {others} did (chance {p}, held over "
            "all sources). It is a list of failures and not of a fleet: its engines that still "
            "run are missing. The answer without it stands beside.",
            ("HONEST_P", "LEAST_OF_KIND"),
            "all {engines} of {source} failed: its running engines are missing",
        ),
    ),
    caution_entry(
        "engines-drop-off",
        FIRST,
        "Engines drop off a source's list when they are old in hours.",
        cure="Ask what became of each that is no longer listed.",
        cases=Case(
            "sources",
            "{what} of {source} are not in its latest readings, and they had more hours than the "
            "others of that source on the day they were last read (chance {p}, held over all "
            "sources): engines may leave the list before their failures are told.",
            ("HONEST_P", "LEAST_OF_KIND"),
            "{what} of {source} dropped off its list with high hours",
        ),
    ),
)
