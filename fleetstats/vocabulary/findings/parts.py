"""What can be wrong with parts, clocks and pooled returns."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import error, note, warning

PARTS = (
    error(
        "component-in-two-engines",
        "One part in two engines at a time.",
        says=(
            "{component} '{serial}' is fitted to engine '{engine}' while it still sits in "
            "engine '{other}'."
        ),
        cure="Enter the removal from the first engine, or correct one of the serials.",
    ),
    error(
        "component-not-fitted",
        "An event of a part that was not fitted.",
        says="{component} '{serial}' is not fitted to engine '{engine}'.",
        cure="Enter the fitting, or correct the serial.",
    ),
    warning(
        "component-place-taken",
        "A part fitted where another still was.",
        says="a {component} is fitted to engine '{engine}' where '{old}' still sits.",
        cure="The part fitted there before is taken as removed, reason unknown.",
    ),
    warning(
        "component-hours-unknown",
        "A part whose hours since new nothing tells.",
        says=(
            "the {component} in engine '{engine}' when its log begins at {on_h:g} h has no "
            "hours of its own."
        ),
        cure=(
            "Give since_new_hours of the part at its first event; until then its life is set "
            "aside. treat.component-hours-unknown = 'accept' takes it to be as old as the "
            "engine."
        ),
        usual="set-aside",
    ),
    warning(
        "component-hours-disagree",
        "A part's hours that do not fit its history.",
        says=(
            "{component} '{serial}' is said to have {given_h:g} h at its fitting; its history "
            "comes to {age:g} h."
        ),
        cure="The part's hours given do not fit its history; the history was followed.",
    ),
    warning(
        "component-fitting-inferred",
        "A part first heard of when it was on the engine already.",
        says=(
            "'{part}' of engine '{engine}' had {given_h:g} h when it was removed, so it was "
            "fitted at {at:g} h since new; that is not in the log."
        ),
        cure="Enter the fitting with its hours.",
    ),
    error(
        "component-never-named",
        "A component that no event of the logs names.",
        says={
            "": (
                "No event of the logs names the component '{component}'; they name none. As it "
                "stands each engine has one that never failed or left."
            ),
            "others": (
                "No event of the logs names the component '{component}'; they name {named}. As "
                "it stands each engine has one that never failed or left. {hint}"
            ),
        },
        cure=(
            "Correct hours.component; if truly no such part was ever changed or at fault, "
            "treat.component-never-named = 'accept' counts it so."
        ),
    ),
    warning(
        "component-serial-missing",
        "A part without a serial.",
        says="a {component} is fitted to engine '{engine}' without a serial.",
        cure="Enter the serial of the part.",
    ),
    warning(
        "reading-not-carried",
        "A last reading that could not be carried to the analysis date.",
        says="engine '{engine}' stays at {exit_h:g} h: {why}.",
        cure=(
            "Give the date of the last reading and of the first; until then it stays censored "
            "there."
        ),
        limit="hours.stale_days",
    ),
    error(
        "merge-conflict",
        "Returns that tell different things of one engine.",
        says="Engine '{name}' is told in two ways: {told}.",
        cure=(
            "Decide under [[merge.decisions]]: engine, take ('proposed', 'separate' or one of "
            "the two rows) and reason; or treat.merge-conflict = 'accept' takes every proposal, "
            "'set-aside' leaves both reports out, but for a failure that one tells."
        ),
    ),
    warning(
        "merge-decision-unused",
        "A decision on returns of which none is in the records.",
        says="A decision stands on engine '{engine}', which is in no conflict.",
        cure="Correct the engine's id, or take the decision out.",
    ),
    error(
        "merge-decision-unknown",
        "A decision on returns that names a row not in conflict.",
        says="The decision on engine '{name}' names '{take}', which is not in conflict.",
        cure="Name the row as the conflict does.",
    ),
    error(
        "clock-without-factor",
        "Hours of another clock without a factor to convert them.",
        says={
            "": "hours of engine '{engine}' are {meter} hours, and no factor is stated.",
            "two-meters": "engine '{engine}' is read on a {main} and on a {meter} meter.",
        },
        cure=(
            "State it with its range under [hours.factors], as meter = [factor, low, high]; "
            "mixed clocks are not guessed."
        ),
    ),
    warning(
        "clock-started-together",
        "Two meters taken to have started together.",
        says="engine '{engine}' is read on a {main} and on a {meter} meter.",
        cure=(
            "Two meters with no reading on the same day are taken to have started together; "
            "read both on one day."
        ),
    ),
    note(
        "clock-no-own-factor",
        "Too few pairs of readings for a factor of the engine's own.",
        says="{problem}",
        cure="The stated factor was used; three rising pairs of readings give the engine its own.",
    ),
    warning(
        "clock-outside-range",
        "An engine's own clock factor outside the stated range.",
        says=(
            "engine '{engine}' runs {own_factor:.3f} {standard} hours to a {meter} hour "
            "({own_low:.3f} to {own_high:.3f}), outside the stated {stated_low:g} to "
            "{stated_high:g}."
        ),
        cure="Check the meters and the range; the engine's own factor was used.",
    ),
)
