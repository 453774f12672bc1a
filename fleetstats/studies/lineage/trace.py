"""The lineage of a study: every printed figure of its decision, with all that it rests on."""

from __future__ import annotations

from dataclasses import fields

from fleetstats.advice.results import Results
from fleetstats.core.kept import kept
from fleetstats.document.identity import report_id
from fleetstats.studies.lineage.of_advice import (
    trace_answers,
    trace_asked,
    trace_band,
    trace_verdict,
)
from fleetstats.studies.lineage.of_chapters import trace_ahead, trace_groups, trace_weakest
from fleetstats.studies.lineage.of_lives import trace_lives
from fleetstats.studies.lineage.tracing import Tracing
from fleetstats.studies.lineage.values import Lineage, SettingUsed
from fleetstats.study.schema import default_of

BY_CHUNKS = (
    "The records were read by chunks, in which no row is kept, so no table of single lives is "
    "written; fleetstats study --whole reads them whole."
)
"""Why a study has no table of lives."""


def trace_figures(results: Results) -> Lineage:
    """Return every printed figure of a study's decision, each traced to what it rests on.

    Each is made again by the function that made it, from the same lives, with a note of every
    setting that is read; where that does not give the very value in the report, the figure says so
    (`made_again`).

    Parameters
    ----------
    results : Results
        A study's results.

    Examples
    --------
    >>> import fleetstats as fs
    >>> from fleetstats.studies.lineage import trace_figures
    >>> results = fs.analyse(fs.read_study("datasets/quiet-fleet"))
    >>> lineage = trace_figures(results)
    >>> lineage["end-of-the-evidence"].settings
    ('evidence.min_at_risk', 'study.claimed_interval_h')
    """
    lineage: Lineage = kept(results, "lineage", lambda: _trace(results))
    return lineage


def _trace(results: Results) -> Lineage:
    t = Tracing(results=results)
    trace_asked(t)
    trace_verdict(t)
    trace_band(t)
    trace_answers(t)
    trace_lives(t)
    if not results.how_read.by_chunks:
        trace_groups(t)
        trace_weakest(t)
        trace_ahead(t)
    figures = t.finish()
    of_lives = results.built.settings_read
    read = {k for f in figures for k in f.settings} | set(of_lives)
    return Lineage(
        figures=figures,
        lives=t.workshop.lives,
        no_lives=BY_CHUNKS if t.workshop.lives is None else "",
        settings=_settings(results, read),
        settings_of_lives=of_lives,
        report_id=report_id(results),
        title=results.settings.study.title,
    )


def _settings(results: Results, read: set[str]) -> tuple[SettingUsed, ...]:
    """Return the settings of those keys with value and default, in the order of the study file."""
    chosen = results.study.chosen
    return tuple(
        SettingUsed(key=key, value=getattr(getattr(results.settings, table.name), f.name),
                    default=default_of(f), chosen=key in chosen)
        for table in fields(results.settings)
        for f in fields(getattr(results.settings, table.name))
        if (key := f"{table.name}.{f.name}") in read
    )  # fmt: skip
