"""The demo study in which something new begins, as files."""

from __future__ import annotations

import csv
import io

from fleetstats.demo.onset import (
    ANALYSIS_DATE,
    CLAIM_H,
    LIFE_SCALE_H,
    LIFE_SHAPE,
    ONSET,
    ONSET_CAUSE,
    ONSET_RATE_PER_H,
    SEED,
    SOURCES,
    draw_onset_lives,
    onset_rows,
)

STUDY = f"""\
# An invented study: parachute clubs that fly the fictional Halden H5, in which something new began.
# All lives were drawn from a truth that fleetstats/demo/onset.py states.

[study]
title = "Halden H5 in parachute flying: did something new begin?"
asked_by = "type club"
reader = "club"
analysis_date = {ANALYSIS_DATE}
claimed_interval_h = {CLAIM_H:g}
seed = {SEED}

[question]
name = "internal engine failure"

[targets]
reliability = 0.80
"""

FILE = """
[[records]]
file = "{file}"
shape = "lives"
source = "{source}"
"""

README = """\
# new-mode: an invented fleet in which something new began

Made by `fleetstats demo --new-mode`; drawn from the truth in `fleetstats/demo/onset.py` with seed
{seed}: Weibull lives of shape {shape:g} and scale {scale:,.0f} h, and from {onset} on a second way
to fail ("{cause}") in every engine, once in {every:,.0f} h whatever its age. No engine, shop, club
or person in it exists. Two returns in one form. Free to use for any purpose.
"""


def onset_files() -> dict[str, str]:
    """Return the study: file name to text."""
    lives = draw_onset_lives()
    names = {source: f"{source.split()[0]}.csv" for source in SOURCES}
    out = {
        "study.toml": STUDY + "".join(FILE.format(file=f, source=s) for s, f in names.items()),
    }
    for source, name in names.items():
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(
            onset_rows(lives, ANALYSIS_DATE, source=source)
        )
        out[name] = text.getvalue()
    out["README.md"] = README.format(
        seed=SEED, shape=LIFE_SHAPE, scale=LIFE_SCALE_H, onset=ONSET, cause=ONSET_CAUSE,
        every=1.0 / ONSET_RATE_PER_H,
    )  # fmt: skip
    return out
