"""What is odd among lives: dates, pairs of rows, causes, and the records as a whole."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import error, note, warning

FLEET = (
    error(
        "duplicate-row",
        "Two rows say exactly the same.",
        says="Says the same as {twin}.",
        cure=(
            "Delete one of the two, or set this kind aside: treat.duplicate-row = 'set-aside' "
            "keeps the first."
        ),
        may_accept=True,
    ),
    error(
        "duplicate-life",
        "Two rows tell of the same engine over the same hours.",
        says=(
            "Engine '{name}' is told here ({told}) and in {other} ({other_told}) over the same "
            "hours."
        ),
        cure=(
            "Keep one: treat.duplicate-life = 'set-aside' keeps the other row, which knows "
            "more. If they are lives after different overhauls, give overhauled_at_hours."
        ),
        may_accept=True,
    ),
    error(
        "hours-backwards",
        "An engine has fewer hours at a later date.",
        says="Engine '{name}' has {hj:g} h on {dj} and had {hi:g} h on {di}.",
        cure=(
            "Correct one of them, or enter the overhaul, meter change or change of engine between."
        ),
        may_accept=True,
    ),
    error(
        "hours-exceed-calendar",
        "More hours than the calendar between the dates has.",
        says="{hours:,.0f} h in the {days} days from {start} to {last}.",
        cure="A day has 24 hours: correct a date or the hours.",
        may_accept=True,
    ),
    error(
        "date-future",
        "A date after the analysis date.",
        says="{date} is after the analysis date {day}.",
        cure="Correct the date, or the analysis date if records were drawn later.",
        may_accept=True,
    ),
    error(
        "dates-backwards",
        "Dates in an impossible order.",
        says="{what} {start} is after the last date of the life, {last}.",
        cure="Correct one of the two dates.",
        may_accept=True,
    ),
    warning(
        "cause-misspelt",
        "A cause that is a slip of a declared one; taken as that.",
        says="The cause '{cause}' is not declared; it is taken as '{near}'.",
        cure='If it is another, write causes."{cause}" = "{cause}" for the file.',
    ),
    warning(
        "cause-undeclared",
        "A cause that the study file does not name.",
        says=(
            "The study file does not name the cause '{cause}'; it counts as one that is not in "
            "question."
        ),
        cure="Add it to question.causes, question.outside_causes or question.censoring_causes.",
    ),
    warning(
        "covariate-missing",
        "A covariate that no row of the records gives.",
        says="No row gives the covariate '{name}'; it is left out.",
        cure=(
            "Name it in groups.covariates as its column is headed; columns that are not used "
            "are listed with each file."
        ),
    ),
    warning(
        "more-than-built",
        "More engines in the records than were built.",
        says="The records hold {seen:,} engines; fleet.built says {built:,}.",
        cure="One id may be written in two ways, or the count is old.",
    ),
    warning(
        "serial-not-built",
        "An engine that is not in the list of serials built.",
        says={
            "": "Engine '{engine}' is not in the list of serials built.",
            "near": "Engine '{engine}' is not in the list of serials built.",
        },
        cure={
            "": "Correct the serial or the list.",
            "near": "Did you mean '{near}'?",
        },
    ),
    warning(
        "meter-mixed",
        "More than one meter kind, converted by the stated factors.",
        says="The records hold {told}, converted by {ranges}.",
        cure="An error in a factor is the same error in every answer; the report shows both ends.",
    ),
    warning(
        "possible-duplicate",
        "Two failures so alike that they may be one, reported twice.",
        says=(
            "Engine '{engine}' failed at {exit_h:g} h, much as '{other}' at {other_h:g} h in "
            "{place}."
        ),
        cure="If they are one failure, correct the id and set one row aside.",
    ),
    warning(
        "reading-stale",
        "The last reading is long before the analysis date.",
        says={
            "": "The last reading, of {last}, is {old} days older than the analysis date.",
            "carried": "The last reading, of {last}, is {old} days older than the analysis date.",
        },
        cure={
            "": (
                "Ask for the hours today. Until then the life counts up to that reading and no "
                "further."
            ),
            "carried": (
                "Ask for the hours today. Until then the life is carried to the analysis date "
                "at the engine's own rate of use, as the study asks."
            ),
        },
        limit="hours.stale_days",
    ),
    warning(
        "hours-heaped",
        "Hours are rounded more often than chance would have it.",
        says=(
            "{hits:,} of the {n:,} readings of {whose} are multiples of {step:g} h; chance "
            "would have {by_chance}."
        ),
        cure=(
            "Ask for readings as the meter shows them; until then take each as good to {half:g} h."
        ),
        limit="LEAST_FOR_HEAPS, HEAP_SHARE, HEAP_CHANCE",
    ),
    warning(
        "use-implausible",
        "More hours a year than one engine usually flies.",
        says="{hours:,.0f} h in the {days} days from {start} to {last} is {a_year:,.0f} h a year.",
        cure="Check the dates and the hours; is a date that of an overhaul or a sale?",
    ),
    note(
        "all-from-new",
        "A file without entry hours; all its engines count as followed from new.",
        says="The file has no entry hours; all its engines count as followed from {since}.",
        cure="If you first heard of an engine at 600 h, its entry is 600.",
    ),
    note(
        "cause-missing",
        "Failures without a cause.",
        says="{n} without a cause.",
        cure="They count as {unknown} (question.unknown_cause).",
    ),
    note(
        "engine-respelt",
        "One engine under more than one spelling.",
        says="Written as {spellings}; taken as one engine.",
        cure=(
            "If they are different engines, give them ids that differ in more than signs and "
            "leading zeros."
        ),
    ),
    note(
        "fate-unknown",
        "Engines built that are not in the records.",
        says="{unknown:,} of the {built:,} engines built are not in the records.{names}",
        cure="They are counted, never dropped: ask for them.",
    ),
    note(
        "removal-unexplained",
        "Removals without a reason; they count as fair censorings.",
        says="{n} without a reason, counted as censored.",
        cure="Ask why: an engine removed because of a finding is no fair censoring.",
    ),
    note(
        "reading-undated",
        "Running engines whose last reading has no date.",
        says="{n:,} of the {running:,} running engines have no date of their last reading.",
        cure="Without it stale readings cannot be told, nor the rate of use.",
    ),
)
