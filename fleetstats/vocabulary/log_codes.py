"""What can be wrong with a log, its parts, its clocks and pooled returns.

One code for each kind, with its severity and what to do about it.
"""

from __future__ import annotations

from fleetstats.records.audit.finding import Finding
from fleetstats.records.lives.life import Origin
from fleetstats.records.log.log_events import LogEvent
from fleetstats.study.settings import Settings

LOG_CODES: dict[str, tuple[str, str]] = {
    "log-example-row": ("note", "It is not counted."),
    "log-engine-missing": ("error", "Enter the engine's serial."),
    "log-kind-unknown": ("error", "Use one of the event kinds."),
    "log-hours-unreadable": ("error", "Give the hours as digits."),
    "log-hours-impossible": ("error", "Correct the hours."),
    "log-meter-unknown": ("error", "Use flight, tach or hobbs."),
    "log-cell-left-out": ("warning", "The row is used without that cell; correct it."),
    "log-hours-missing": ("error", "Enter the hours at the event, or set the row aside."),
    "log-before-installation": (
        "error",
        "Enter the installation first, or correct the date of one of the two.",
    ),
    "log-installed-twice": (
        "error",
        "Enter the removal between the two, or correct the serial of one of them.",
    ),
    "log-removed-twice": (
        "error",
        "Enter the return to service between the two, or delete the copy.",
    ),
    "log-event-twice": (
        "warning",
        "Both rows are kept in the account and count as one event; delete one if they are copies.",
    ),
    "log-failed-while-removed": (
        "error",
        "Enter the return to service before the failure, or correct its date.",
    ),
    "log-hours-while-removed": (
        "error",
        "Enter the return to service with its hours, or correct the removal.",
    ),
    "log-gap": (
        "warning",
        "The hours between are not counted as observed. Enter what happened in them.",
    ),
    "log-after-retirement": (
        "error",
        "Correct the retirement, or the serial of the later event.",
    ),
    "log-hours-backwards": (
        "error",
        "Correct the reading, or enter the overhaul, meter change or change of engine between.",
    ),
    "log-too-fast": (
        "warning",
        "Check both dates and both readings: an engine cannot run more hours than there are.",
    ),
    "log-overhaul-runs-on": (
        "error",
        "The log's hours count since overhaul, so they restart at 0 there. Correct the reading, "
        'or say [hours] log_hours = "since-new".',
    ),
    "log-since-new-unknown": (
        "error",
        'Give since_new_hours at one event, or ask for [hours] basis = "since-overhaul".',
    ),
    "log-clocks-disagree": (
        "warning",
        "The hours given beside the meter do not fit it; the meter was followed.",
    ),
    "log-failure-without-exposure": (
        "warning",
        "A failure told without the hours observed before it cannot enter a rate; it is listed "
        "and set aside.",
    ),
    "log-no-exposure": (
        "warning",
        "No hours lie between the first and the last event; add a later reading.",
    ),
    "log-return-not-written": (
        "note",
        "Taken as returned to service at the hours of the overhaul.",
    ),
    "log-removal-unexplained": (
        "warning",
        "Enter the cause; until then it counts as removed for a reason that is none of the "
        "engine's own.",
    ),
    "log-teardown-alone": ("warning", "Enter the removal before the teardown."),
    "log-teardown-unclear": ("warning", "Say in 'confirmed' whether a fault was found."),
    "log-build-changed": (
        "warning",
        "Enter the modification with its hours, or correct the build.",
    ),
    "log-build-missing": (
        "warning",
        "Say in 'build' which build standard it became; the life was not split.",
    ),
    "log-no-overhaul-history": (
        "note",
        "Taken as never overhauled; give since_overhaul_hours at the first event if it was.",
    ),
    "log-engine-twice": ("warning", "Join the two logs of the engine in one file."),
    "log-event-outside": (
        "note",
        "It counts in no rate of recurrent events; enter the readings around it.",
    ),
    "component-in-two-engines": (
        "error",
        "Enter the removal from the first engine, or correct one of the serials.",
    ),
    "component-not-fitted": ("error", "Enter the fitting, or correct the serial."),
    "component-place-taken": (
        "warning",
        "The part fitted there before is taken as removed, reason unknown.",
    ),
    "component-hours-unknown": (
        "warning",
        "Give since_new_hours of the part at its first event; until then its life is set aside. "
        "treat.component-hours-unknown = 'accept' takes it to be as old as the engine.",
    ),
    "component-hours-disagree": (
        "warning",
        "The part's hours given do not fit its history; the history was followed.",
    ),
    "component-fitting-inferred": ("warning", "Enter the fitting with its hours."),
    "component-never-named": (
        "error",
        "Correct hours.component; if truly no such part was ever changed or at fault, "
        "treat.component-never-named = 'accept' counts it so.",
    ),
    "component-serial-missing": ("warning", "Enter the serial of the part."),
    "reading-not-carried": (
        "warning",
        "Give the date of the last reading and of the first; until then it stays censored there.",
    ),
    "merge-conflict": (
        "error",
        "Decide under [[merge.decisions]]: engine, take ('proposed', 'separate' or one of the "
        "two rows) and reason; or treat.merge-conflict = 'accept' takes every proposal.",
    ),
    "merge-decision-unused": ("warning", "Correct the engine's id, or take the decision out."),
    "merge-decision-unknown": ("error", "Name the row as the conflict does."),
    "clock-without-factor": (
        "error",
        "State it with its range under [hours.factors], as meter = [factor, low, high]; mixed "
        "clocks are not guessed.",
    ),
    "clock-started-together": (
        "warning",
        "Two meters with no reading on the same day are taken to have started together; read both "
        "on one day.",
    ),
    "clock-no-own-factor": (
        "note",
        "The stated factor was used; three rising pairs of readings give the engine its own.",
    ),
    "clock-outside-range": (
        "warning",
        "Check the meters and the range; the engine's own factor was used.",
    ),
}
"""Code: severity, and what to do about it."""


SET_ASIDE = ("component-hours-unknown", "log-example-row")
"""Codes whose rows are set aside unless the study says otherwise."""


def action_of(code: str, severity: str, settings: Settings) -> str:
    """Return what is done about a finding: the study's choice, else stop on errors only."""
    usual = "stop" if severity == "error" else "set-aside" if code in SET_ASIDE else "accept"
    return settings.treat.actions.get(code, usual)


def pool_finding(
    code: str,
    origin: Origin,
    message: str,
    settings: Settings,
    *,
    engine: str = "",
    column: str = "",
    value: object = None,
    related: tuple[str, ...] = (),
) -> Finding:
    """Return a finding with the severity, the advice and the action of its code."""
    severity, advice = LOG_CODES[code]
    return Finding(
        code=code,
        severity=severity,
        message=message,
        advice=advice,
        file=origin.file,
        sheet=origin.sheet,
        row=origin.row,
        column=column,
        value="" if value is None else f"{value:g}" if isinstance(value, float) else str(value),
        engine=engine,
        related=related,
        action=action_of(code, severity, settings),
    )


def log_finding(
    code: str, event: LogEvent, message: str, settings: Settings, *, column: str = "hours"
) -> Finding:
    """Return the finding of one event of a log; the value shown is the event's own."""
    return pool_finding(
        code,
        event.origin,
        message,
        settings,
        engine=event.engine,
        column=column,
        value=getattr(event, column, None),
    )
