"""Shortcuts that all composers share: statements, tables of facts, cells of intervals."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.bands.interval import Band, Interval
from fleetstats.core.provenance import SourceFile
from fleetstats.document.document import Column, Layer, Statement, Table
from fleetstats.document.layers import evidence_ends, mark_at
from fleetstats.document.table_of import col, table_of
from fleetstats.document.words import check_tone, say_marked, say_range
from fleetstats.vocabulary.capitals import capital

METERS = {"flight": "flight hours", "tach": "tach hours", "hobbs": "Hobbs hours"}
BASES = {"since-new": "since new", "since-overhaul": "since overhaul"}


def say(text: str, tone: str = "fact") -> Statement:
    """Return a statement; its tone must be known."""
    return Statement(text=text, tone=check_tone(tone))


def facts(key: str, title: str, rows: Sequence[tuple[str, str]], see: str = "") -> Table:
    """Return a table of named facts, without column heads."""
    return Table(
        key=key,
        title=title,
        columns=(Column(key="fact", title=""), Column(key="value", title="")),
        rows=tuple(rows),
        see=see,
    )


def files_table(files: Sequence[SourceFile], study_files: Sequence[SourceFile] = ()) -> Table:
    """Return the input files with their size, rows and digest; the study files first, no rows."""
    return table_of(
        [*study_files, *files],
        key="files",
        title="Input files",
        columns=(
            col("name", "File", lambda f: f.name),
            col("size_bytes", "Bytes", lambda f: f.size_bytes, "count"),
            col("rows", "Rows", lambda f: None if f in study_files else f.rows, "count"),
            col("sha256", "SHA-256", lambda f: f.sha256),
        ),
        see="A changed byte in a file changes its digest.",
    )


def clock_words(results: Results) -> str:
    """Return what an hour is in this study: "flight hours since new"."""
    hours = results.settings.hours
    return f"{METERS[hours.meter]} {BASES[hours.basis]}"


def axis_words(results: Results) -> str:
    """Return the label of an axis of hours."""
    words = clock_words(results)
    return capital(words)


def interval_row(
    interval: Interval, *limits: float | None, supported_to_h: float = math.inf
) -> tuple[str, str, str, str]:
    """Return name, estimate, edges and method of an interval for a table.

    Hours beyond `supported_to_h` are marked as extrapolation; numbers that are compared with
    `limits` show on which side they lie.
    """
    estimate = say_marked(interval.estimate, interval.unit, supported_to_h, *limits)
    edges = say_range(interval, *limits, supported_to_h=supported_to_h)
    return interval.name, estimate, edges, interval.method


def band_layers(band: Band, *, label: str, factor: float = 1.0) -> list[Layer]:
    """Return ribbon and line of a band; parts beyond its support are marked as extrapolation.

    `factor` changes the unit.
    """
    low, high, middle = factor * band.low, factor * band.high, factor * band.estimate
    # A missing edge reaches as far as the quantity can.
    low = np.where(np.isnan(low), 0.0, low)
    top = 1.0 if band.unit == "probability" else np.inf
    high = np.where(np.isnan(high), top, high)
    out = [
        Layer(
            kind="ribbon",
            role="band",
            label=label,
            x=band.hours,
            low=low,
            high=high,
            extrapolated_from=band.supported_to_h,
        )
    ]
    if np.isfinite(middle).any():
        out.append(
            Layer(
                kind="line",
                role="estimate",
                label="best estimate",
                x=band.hours,
                y=middle,
                extrapolated_from=band.supported_to_h,
            )
        )
    return out


def hour_marks(results: Results, *, advice: bool = True, last_h: float = np.inf) -> list[Layer]:
    """Return the vertical marks of horizon, oldest engine, claim and overhaul band."""
    a = results.advice
    out = []
    h = a.horizon
    if 0.0 < h.supported_h < last_h:
        out.append(evidence_ends(h.supported_h))
        out.append(
            Layer(
                kind="zone",
                role="horizon",
                x=np.array([h.supported_h]),
                x2=np.array([1e12]),
            )
        )
    if h.oldest_h < last_h and h.oldest_h > h.supported_h:
        out.append(mark_at("oldest", f"oldest {h.oldest_h:,.0f} h", h.oldest_h))
    claim = results.settings.study.claimed_interval_h
    if claim is not None:
        out.append(mark_at("claim", f"claimed {claim:,.0f} h", claim))
    band = a.overhaul_band
    low, high = band.plan_from.hours, band.not_beyond.hours
    if not advice or low is None:
        return out
    if band.state != "answered":
        out.append(mark_at("advice", f"target carried to {low:,.0f} h", low))
    elif high is not None and high > low:
        out.append(
            Layer(
                kind="zone",
                role="advice",
                label=f"overhaul band {low:,.0f} to {high:,.0f} h",
                x=np.array([low]),
                x2=np.array([high]),
            )
        )
    return out
