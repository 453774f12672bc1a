"""What can be wrong with tables of checks, leak-down readings and bench runs."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import error, warning

CONDITION = (
    warning(
        "condition-engine-unknown",
        "Checks or readings of an engine without a life.",
        says={
            "": "Engine '{engine}' has {rows} and no life in the records.",
            "near": "Engine '{engine}' has {rows} and no life in the records.",
        },
        cure={
            "": (
                "Add its life, or correct the id. Without hours at risk its rows say nothing "
                "of the check interval."
            ),
            "near": "{hint} Without hours at risk its rows say nothing of the check interval.",
        },
    ),
    warning(
        "condition-hours-late",
        "Checks or readings past the last hours of the engine's life.",
        says={
            "": "Engine '{engine}' has {rows} past {end_h:g} h, the last hours of its life.",
            "running": "Engine '{engine}' has {rows} past {end_h:g} h, the last hours of its life.",
        },
        cure={
            "": "Its life ended there; correct the hours or the engine.",
            "running": (
                "Update the engine's hours in the life records; until then these rows lie past "
                "them."
            ),
        },
        limit="CONDITION_SLACK_H",
    ),
    error(
        "meter-without-factor",
        "A file of checks or readings on another clock, without a factor.",
        says="The hours are {meter} hours, the study counts {standard} hours.",
        cure="State hours.factors.{meter}, with its range, in the study file.",
    ),
    warning(
        "decimal-guessed",
        (
            "Decimal marks that nothing tells, in a file of checks, readings or bench runs; "
            "the point is taken."
        ),
        says="It cannot be told whether commas or points mark decimals.",
        cure="State decimal = '.' or decimal = ',' for this file; '.' is taken.",
    ),
    error(
        "number-unread",
        "A number of a check, reading or bench run that cannot be read.",
        says="{trouble}",
        cure="{hint}",
    ),
    warning(
        "mode-missing",
        "A fault found at a check, without its mode.",
        says="A fault was found and its mode is not said.",
        cure="Name the mode; whether checks cover a mode is told from it.",
    ),
    error(
        "cylinder-missing",
        "A reading without its cylinder.",
        says="There is no cylinder.",
        cure="Enter its number.",
    ),
    error(
        "retest-unknown",
        "A retest of a reading that is not in the file.",
        says="The row repeats reading '{name}', which is not among the readings in use.",
        cure="Give the first reading an id, with the same engine.",
    ),
    error(
        "retest-other-cylinder",
        "A retest of another cylinder.",
        says="The row repeats a reading of cylinder {cylinder}.",
        cure="A retest is of the same cylinder; correct the one or the other.",
    ),
    error(
        "reading-id-twice",
        "Two readings with one id.",
        says="Reading '{name}' of this engine stands above already.",
        cure="Give each reading an id of its own.",
    ),
    error(
        "reading-missing",
        "No value for a leak-down reading.",
        says="There is no {what}.",
        cure="{right}",
    ),
    error(
        "stress-missing",
        "No value for the stress of a bench run.",
        says="There is no {what}.",
        cure="Enter it.",
    ),
    error(
        "life-missing",
        "No value for the life of a bench run.",
        says="There is no {what}.",
        cure="{right}",
    ),
    error(
        "reading-impossible",
        "A number that a leak-down reading cannot be.",
        says="{x:g} cannot be {what}.",
        cure="{right}",
    ),
    error(
        "reference-impossible",
        "A number that a reference reading cannot be.",
        says="{x:g} cannot be {what}.",
        cure="It must be {least:,g}{most}.",
    ),
    error(
        "supply-impossible",
        "A number that a supply pressure cannot be.",
        says="{x:g} cannot be {what}.",
        cure="It must be {least:,g}{most}.",
    ),
    error(
        "stress-impossible",
        "A number that the stress of a bench run cannot be.",
        says="{x:g} cannot be {what}.",
        cure="It must be {least:,g}{most}.",
    ),
    error(
        "life-impossible",
        "A number that the life of a bench run cannot be.",
        says="{x:g} cannot be {what}.",
        cure="{right}",
    ),
    error(
        "value-impossible",
        "A number that a reading at a check cannot be.",
        says="{x:g} cannot be {what}.",
        cure="It must be {least:,g}{most}.",
    ),
    error(
        "oil_hours-impossible",
        "A number that hours since the oil change cannot be.",
        says="{x:g} cannot be {what}.",
        cure="It must be {least:,g}{most}.",
    ),
    error(
        "result-missing",
        "No result of a check.",
        says="There is no {what}.",
        cure="Write one of: {words}.",
    ),
    error(
        "ended-missing",
        "No ending of a bench run.",
        says="There is no {what}.",
        cure="Write one of: {words}.",
    ),
    error(
        "result-unknown",
        "A word for the result of a check that is not known.",
        says="'{word}' is no known {what}.",
        cure="{hint}",
    ),
    error(
        "ended-unknown",
        "A word for the ending of a bench run that is not known.",
        says="'{word}' is no known {what}.",
        cure="{hint}",
    ),
    error(
        "grade-unknown",
        "A word for the grade of metal that is not known.",
        says="'{word}' is no known {what}.",
        cure="{hint}",
    ),
    error(
        "temperature-unknown",
        "A word for the temperature of the engine that is not known.",
        says="'{word}' is no known {what}.",
        cure="{hint}",
    ),
)
