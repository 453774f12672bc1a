"""Cautions of single chapters: checks, leak-down, bench, portfolio, and a chapter that failed."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, SECOND, Case, caution_entry

CHAPTERS = (
    caution_entry(
        "no-warning-mode",
        FIRST,
        "Some modes of failure give no warning at checks.",
        cure="Cover those modes by hours or by design, not by checks.",
        cases={
            "declared": Case(
                "check interval",
                "Some known causes give no warning at the checks: the on-condition argument does "
                "not cover them.",
            ),
            "seen": Case(
                "check interval",
                "The argument from checks does not cover these modes: {modes}. They are named in "
                "the study as giving no warning, or were never found at a check before they "
                "failed.",
            ),
        },
    ),
    caution_entry(
        "steady-faults",
        SECOND,
        "Faults come faster as engines age, and a steady rate was taken.",
        cure='Judge the faults at the age of the engine ([delay] arrival = "weibull").',
        cases=Case(
            "check interval",
            "Faults were taken to arise at a steady rate, and these records speak against it: "
            "they come faster as engines age, about as the power {shape} of the hours. Figures "
            "per 1,000 h and between two checks are means over all ages and flatter the old "
            "engines; a rate that grows with age would judge them at theirs "
            '([delay] arrival = "weibull").',
            ("CONTRADICTED_P",),
        ),
    ),
    caution_entry(
        "warning-law",
        SECOND,
        "What other check intervals would do rests on a law that the records do not tell.",
        cure="Move the interval in small steps, and read the records again after each.",
        cases=Case(
            "check interval",
            "The records speak of the interval at which they were made. With checks each {every} "
            "the share of faults that fail first is at most {least} under one law of the warning "
            "time and {most} under another, and the records do not rule out either. The wider is "
            "quoted.",
            ("LAWS_APART",),
        ),
    ),
    caution_entry(
        "checks-assumed",
        SECOND,
        "Checks were assumed where none is recorded.",
        cure="Enter the checks that were made.",
        cases=Case(
            "check interval",
            "Some lives have no check records; checks at the usual interval were assumed. Checks "
            "asserted are not checks evidenced.",
        ),
    ),
    caution_entry(
        "checks-missing",
        SECOND,
        "Checks that were due are not in the records.",
        cure="Enter them, or have them made.",
        cases=Case(
            "checks",
            "Not every check that was due is in the records; what is said of condition holds only "
            "for checks that were made.",
        ),
    ),
    caution_entry(
        "limit-source",
        SECOND,
        "The leak-down limit is not the maker's.",
        cure="State the maker's limit from the engine's manual (leakdown.makers_limit).",
        cases=Case(
            "trends",
            "The leak-down limit is the common loss rule. It is valid only where the maker gives "
            "no data; the engine's manual and its reference orifice come first.",
        ),
    ),
    caution_entry(
        "bench-stress",
        SECOND,
        "Service lies far outside the stresses tested.",
        cure="Test nearer to service.",
        cases=Case(
            "bench",
            "Service lies far outside the stresses tested; the life there rests on the assumed "
            "law more than on the runs.",
            ("FAR_FROM_TESTED",),
        ),
    ),
    caution_entry(
        "bench-levels",
        SECOND,
        "Too few stresses have failures.",
        cure="Run more parts at the stresses without a failure, or at a third stress.",
        cases=Case(
            "bench",
            "Fewer than three stresses with failures, or a stress with none: the law itself is "
            "hardly tested, and large-sample bands are too narrow there.",
            ("LEAST_LEVELS",),
        ),
    ),
    caution_entry(
        "bench-mode",
        SECOND,
        "Bench and field are not joined.",
        cure="Have the mode of failure shown on both sides.",
        cases=Case(
            "bench",
            "Bench and field are not joined: {why}. They are joined only where the mode is shown "
            "to be the same on both sides.",
        ),
    ),
    caution_entry(
        "undated-lives",
        SECOND,
        "Lives without dates are in neither year.",
        cure="Enter the dates.",
        cases=Case("years", "Without dates that place its hours a life is in neither year."),
    ),
    caution_entry(
        "rows-without-family",
        SECOND,
        "Rows name no family.",
        cure="Enter the family.",
        cases=Case("account", "A row that names no family belongs to no answer."),
    ),
    caution_entry(
        "families-without-answer",
        FIRST,
        "Some families have no answer.",
        cure="See the reason beside each, and mend its records.",
        cases=Case(
            "without-answer",
            "A ranking without some of its families is not a ranking of the portfolio.",
        ),
    ),
    caution_entry(
        "chapter-failed",
        FIRST,
        "A chapter could not be made.",
        cure="Mend what the reason names, and run the study again.",
        cases=Case(
            "{chapter}",
            "A part of the report could not be made, {title}: {reason}",
            proviso="this could not be worked out: {title}",
        ),
    ),
    caution_entry(
        "quick-study",
        FIRST,
        "A quick study leaves parts out.",
        cure="Run the whole study, without --quick, before anything is rested on this.",
        cases=Case(
            "study",
            "This is a quick study: {n} of the whole one, named under what was not examined, were "
            "left out, and with them any cautions that they would give.",
            proviso="{n} of the study were left out",
        ),
    ),
    caution_entry(
        "figures-disagree",
        FIRST,
        "One figure stands in the report in two ways.",
        cure="Use neither figure; report the fault.",
        cases=Case(
            "{figure}",
            "This report contradicts itself in one figure, {figure}: {first} stands in {place}, "
            "{second} in {other_place}. Use neither before the program is mended; please report "
            "it.",
            proviso="the report contradicts itself in one figure, {figure}",
        ),
    ),
)
