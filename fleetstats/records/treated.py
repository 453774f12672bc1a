"""Findings on logs, parts, clocks and pooled returns: made with what the study does about them."""

from __future__ import annotations

from typing import Any

from fleetstats.records.log_event import LogEvent
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.finding import Finding, Origin, make_finding
from fleetstats.vocabulary.findings import entry_of


def action_of(key: str, settings: Settings) -> str:
    """Return what is done about a finding: the study's choice, else the kind's usual action."""
    entry = entry_of(key)
    return settings.treat.actions.get(entry.code, entry.usual)


def pool_finding(
    key: str,
    origin: Origin,
    settings: Settings,
    *,
    engine: str = "",
    column: str = "",
    value: object = None,
    related: tuple[str, ...] = (),
    **fields: Any,
) -> Finding:
    """Return a finding of the catalogue at `origin`, with the study's action for its kind."""
    return make_finding(
        key,
        file=origin.file,
        sheet=origin.sheet,
        row=origin.row,
        column=column,
        value="" if value is None else f"{value:g}" if isinstance(value, float) else str(value),
        engine=engine,
        related=related,
        action=action_of(key, settings),
        **fields,
    )


def log_finding(
    key: str, event: LogEvent, settings: Settings, *, column: str = "hours", **fields: Any
) -> Finding:
    """Return the finding of one event of a log; the value shown is the event's own.

    Its sentence may name the engine and the event's kind.
    """
    return pool_finding(
        key,
        event.origin,
        settings,
        engine=event.engine,
        column=column,
        value=getattr(event, column, None),
        **{"kind": event.kind} | fields,
    )
