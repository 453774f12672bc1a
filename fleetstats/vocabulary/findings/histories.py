"""What can be wrong with a row that tells the whole history of an engine in its columns."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import FAILURE_ASIDE, error, warning

HISTORIES = (
    error(
        "history-order",
        "Things told in an order in which they cannot have happened.",
        says={
            "hours": (
                "'{what}' at {h:g} h comes after '{other}' at {other_h:g} h, and no change of the "
                "meter lies between."
            ),
            "dates": "'{what}' on {day} comes after '{other}' on {other_day}.",
            "place": (
                "'{what}' at {h:g} h has no place among the other hours and dates of its row."
            ),
            "back": "'{what}' where the engine is in service: nothing before it took it out.",
            "no-hours": "'{what}' at {h:g} h comes with no hours run since {other_h:g} h.",
        },
        cure={
            "hours": (
                "Correct the hours of one of the two, or give the hours at which the meter was "
                "changed. " + FAILURE_ASIDE
            ),
            "dates": "Correct one of the two dates. " + FAILURE_ASIDE,
            "place": "Correct its hours or its date. " + FAILURE_ASIDE,
            "back": "Give the hours of the failure or removal before it, or correct its own hours.",
            "no-hours": "Correct its hours, or delete what is told twice. " + FAILURE_ASIDE,
        },
    ),
    error(
        "history-hours-missing",
        "Something that happened to an engine, without the hours at which it did.",
        says={
            "": "'{what}' has a date and no hours.",
            "told": "'{word}' is told of '{what}', which has no hours.",
        },
        cure="Enter the hours at which it happened. " + FAILURE_ASIDE,
    ),
    warning(
        "history-now-missing",
        "An engine in service without the hours of a last reading.",
        says="engine '{engine}' has no hours now; nothing after {h:g} h is counted as observed.",
        cure="Enter the hours of its last reading.",
    ),
    error(
        "history-meter-open",
        "Hours after a change of the meter that may be those of the new meter or of the engine.",
        says=(
            "the meter was changed at {h:g} h, and '{what}' at {later_h:g} h may be what the new "
            "meter shows or the hours of the engine."
        ),
        cure=(
            'State after_meter_change = "new-meter" or "total" below the [[records]] of the file, '
            "or give in a column 'new meter reading' what the new meter showed."
        ),
    ),
    error(
        "history-meter-place",
        "Something told without a date that may lie before or after a change of the meter.",
        says="'{what}' at {h:g} h may lie before or after the change of the meter.",
        cure="Give the dates of both.",
    ),
    error(
        "history-repair-open",
        "A repair of which it is not said what it renewed: all, a part, or nothing.",
        says="engine '{engine}' went on after '{word}', and what that renewed is not said.",
        cure=(
            'State under the file\'s [records.renews] "{word}" = "all" where the engine is as '
            'new after it, "part" where one part is, or "nothing". The ages of the engines '
            "hang on it."
        ),
    ),
    warning(
        "history-return-assumed",
        "An engine that ran on after a failure or removal, its return not told.",
        says=(
            "engine '{engine}' left service at {last_h:g} h ('{what}') and ran on, and its return "
            "is not told; it is taken to have come back at these hours."
        ),
        cure="Enter the hours at which it was back in service.",
    ),
    warning(
        "history-repair-unexplained",
        "A repair of an engine in service, and no failure told that it mended.",
        says="'{what}' at {h:g} h, and no failure is told that it mended; none is counted.",
        cure="If a failure led to it, enter the hours of the failure and its cause.",
    ),
    warning(
        "history-age-since-new",
        "Engines renewed as a whole, in a study that counts hours since new all the same.",
        says=(
            "{n} of its engines came back renewed as a whole, and the study counts hours since "
            "new: their ages, in the list of engines to look at too, go on as if nothing was "
            "renewed."
        ),
        cure='State [hours] basis = "since-overhaul" to ask about hours since the renewal.',
    ),
    error(
        "history-ending",
        "A status now that says more than a history can tell by it.",
        says="the status is '{word}', which tells of an end that stands in no column of its own.",
        cure=(
            "Give its hours in columns such as 'failed at' or 'removed at' with the cause, and "
            "say running, failed, removed, planned-overhaul or lost."
        ),
    ),
    error(
        "history-engine-twice",
        "An engine with two rows in a table of one row an engine.",
        says="engine '{engine}' has a row already, row {first}.",
        cure="Write its history in one row, or set the second row aside. " + FAILURE_ASIDE,
    ),
)
