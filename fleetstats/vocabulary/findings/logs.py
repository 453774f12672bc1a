"""What can be wrong with a log of events. Each kind has one cure, whatever the sentence."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import FAILURE_ASIDE, error, note, warning

LOGS = (
    note(
        "log-example-row",
        "A template's example row.",
        says="the template's example row.",
        cure="It is not counted.",
        usual="set-aside",
    ),
    error(
        "log-engine-missing",
        "An event does not say which engine it is about.",
        says="the engine is missing.",
        cure="Enter the engine's serial.",
    ),
    error(
        "log-kind-unknown",
        "An event of no known kind.",
        says={
            "": "the kind is missing. {hint}",
            "word": "'{word}' is no event that is known. {hint}",
        },
        cure="Use one of the event kinds.",
    ),
    error(
        "log-hours-unreadable",
        "Hours of an event that are not a number.",
        says="{trouble} {hint}",
        cure="Give the hours as digits.",
    ),
    error(
        "log-hours-impossible",
        "Hours of an event that cannot be.",
        says="{trouble} {hint}",
        cure="Correct the hours.",
    ),
    error(
        "log-meter-unknown",
        "An event's meter is none that is known.",
        says="'{word}' is no meter kind that is known. {hint}",
        cure="Use flight, tach or hobbs.",
    ),
    warning(
        "log-cell-left-out",
        "A cell of an event that cannot be read; the event is used without it.",
        says="{trouble} {hint}",
        cure="The row is used without that cell; correct it.",
    ),
    error(
        "log-hours-missing",
        "An event without hours.",
        says={
            "": "'{kind}' has no hours.",
            "first": "the first event, '{kind}', has no hours.",
        },
        cure="Enter the hours at the event, or set the row aside. " + FAILURE_ASIDE,
    ),
    error(
        "log-before-installation",
        "An event before the engine was installed.",
        says={
            "": "engine '{engine}' has events before it was installed.",
            "ended": "engine '{engine}' is '{kind}' as its first event.",
        },
        cure="Enter the installation first, or correct the date of one of the two.",
    ),
    error(
        "log-installed-twice",
        "An engine installed twice without a removal between.",
        says="engine '{engine}' is '{kind}' while it is in service.",
        cure="Enter the removal between the two, or correct the serial of one of them.",
    ),
    error(
        "log-removed-twice",
        "An engine removed twice without a return between.",
        says="engine '{engine}' was removed a second time without a return between.",
        cure="Enter the return to service between the two, or delete the copy.",
    ),
    warning(
        "log-event-twice",
        "One event told twice; it counts once.",
        says="engine '{engine}' is '{kind}' here and in {other}: one event, told twice.",
        cure=(
            "Both rows are kept in the account and count as one event; delete one if they are "
            "copies."
        ),
    ),
    error(
        "log-failed-while-removed",
        "A failure of an engine that was removed at the time.",
        says="engine '{engine}' failed at {h:g} h since new while it was removed.",
        cure="Enter the return to service before the failure, or correct its date.",
    ),
    error(
        "log-hours-while-removed",
        "Hours run while the engine was removed.",
        says="engine '{engine}' ran from {last_h:g} to {h:g} h while it was removed.",
        cure="Enter the return to service with its hours, or correct the removal.",
    ),
    warning(
        "log-gap",
        "Hours during which nobody watched; they are not counted.",
        says="engine '{engine}' left at {last_h:g} h and came back at {h:g} h since new.",
        cure="The hours between are not counted as observed. Enter what happened in them.",
    ),
    error(
        "log-after-retirement",
        "An event after the engine was retired.",
        says="engine '{engine}' is '{kind}' after it was retired.",
        cure="Correct the retirement, or the serial of the later event.",
    ),
    error(
        "log-hours-backwards",
        "Hours that fall without an overhaul or a change of meter.",
        says={
            "below-zero": "hours since new come out below 0.",
            "": "hours fall from {last:g} to {reading:g} for engine '{engine}'.",
            "overhauled": (
                "hours fall from {last:g} to {reading:g} for engine '{engine}'. It was "
                "overhauled at {renewed_h:g} h: if the log's hours restart there, say [hours] "
                'log_hours = "since-overhaul".'
            ),
        },
        cure=(
            "Correct the reading, or enter the overhaul, meter change or change of engine between."
        ),
    ),
    warning(
        "log-too-fast",
        "More hours between two dates than there are.",
        says="{ran_h:g} h in {days} days for engine '{engine}'.",
        cure="Check both dates and both readings: an engine cannot run more hours than there are.",
    ),
    error(
        "log-overhaul-runs-on",
        "Hours that run on over an overhaul, though the log counts since it.",
        says={
            "": "hours ran on from {last_h:g} to {h:g} before the overhaul.",
            "after": (
                "hours go on from {last:g} to {reading:g} after the overhaul of engine '{engine}'."
            ),
        },
        cure=(
            "The log's hours count since overhaul, so they restart at 0 there. Correct the "
            'reading, or say [hours] log_hours = "since-new".'
        ),
    ),
    error(
        "log-since-new-unknown",
        "Hours since new that nothing in the log tells.",
        says="hours since new of engine '{engine}' are not known.",
        cure='Give since_new_hours at one event, or ask for [hours] basis = "since-overhaul".',
    ),
    warning(
        "log-clocks-disagree",
        "Two clocks of one event that do not fit each other.",
        says="{name} is {given:g}, the log comes to {ours:g}.",
        cure="The hours given beside the meter do not fit it; the meter was followed.",
    ),
    warning(
        "log-failure-without-exposure",
        "A failure without watched hours before it.",
        says={
            "": "engine '{engine}' is '{kind}' as its first event.",
            "lost": "engine '{engine}' is '{kind}' after it was lost sight of.",
            "at-once": "engine '{engine}' is '{kind}' at the hours at which it was put in service.",
        },
        cure=(
            "A failure told without the hours observed before it cannot enter a rate; it is "
            "listed and set aside. " + FAILURE_ASIDE
        ),
    ),
    warning(
        "log-no-exposure",
        "A log without hours between its first and last event.",
        says="engine '{engine}' has no hours between its events.",
        cure="No hours lie between the first and the last event; add a later reading.",
    ),
    note(
        "log-return-not-written",
        "A return to service that is not written down.",
        says="engine '{engine}' runs after its overhaul at {last_h:g} h since new.",
        cure="Taken as returned to service at the hours of the overhaul.",
    ),
    warning(
        "log-removal-unexplained",
        "A removal without a cause.",
        says="engine '{engine}' was removed, and nothing says why.",
        cure=(
            "Enter the cause; until then it counts as removed for a reason that is none of the "
            "engine's own."
        ),
    ),
    warning(
        "log-teardown-alone",
        "A teardown of an engine that was not removed.",
        says="engine '{engine}' is taken apart without having been removed.",
        cure="Enter the removal before the teardown.",
    ),
    warning(
        "log-teardown-unclear",
        "A teardown that does not say what was found.",
        says="the teardown of engine '{engine}' does not say what was found.",
        cure="Say in 'confirmed' whether a fault was found.",
    ),
    warning(
        "log-build-changed",
        "Another build standard than before, without a modification.",
        says="build '{new_build}' where '{old_build}' was, with no modification.",
        cure="Enter the modification with its hours, or correct the build.",
    ),
    warning(
        "log-build-missing",
        "A modification that does not name the new build standard.",
        says="engine '{engine}' was modified to a build that is not named.",
        cure="Say in 'build' which build standard it became; the life was not split.",
    ),
    note(
        "log-no-overhaul-history",
        "No word on earlier overhauls; taken as never overhauled.",
        says="first seen at {h:g} h since new.",
        cure="Taken as never overhauled; give since_overhaul_hours at the first event if it was.",
    ),
    warning(
        "log-engine-twice",
        "One engine with two logs.",
        says="engine '{name}' is told by two logs; the one with more hours is used.",
        cure=(
            "Join the two logs of the engine in one file, or name one source for both and tell no "
            "event twice."
        ),
    ),
    note(
        "log-event-outside",
        "An event outside the hours that were watched.",
        says="'{kind}' of engine '{engine}' at {h:g} h lies outside the hours seen.",
        cure="It counts in no rate of recurrent events; enter the readings around it.",
    ),
)
