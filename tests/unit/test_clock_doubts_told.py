"""Doubts of the clocks by kind of meter and by engine: as users write them, and as they are told.

Invented fleets of a few dozen engines.
"""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from fleetstats.chapters.clock_doubt.chapter import chapter_clock_doubt, doubts_by_kind
from fleetstats.chapters.clock_doubt.section import compose_clock_doubt
from fleetstats.chapters.departures.compute import list_departures
from fleetstats.core.errors import SettingError
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.readers import read_records
from fleetstats.report.bundle.pseudonyms import pseudonymous_study
from fleetstats.spells.build import build_spells
from fleetstats.spells.bulk.bulk import build_bulk
from fleetstats.study.study import Study, read_study
from fleetstats.survival.weibull.fit_weibull import try_fit

KINDS = "[clocks]\ndoubt = 0.01\n[clocks.doubts]\ntach = 0.08\nflight = 0.03\n"
METERS = ("flight", "tach", "hobbs")
LIVES = [
    f"E-{i},{400 + 17 * i},{'failed' if i % 5 == 0 else 'running'},{METERS[i % 3]},"
    f"{'20 %' if i == 7 else '0.15' if i == 8 else ''}"
    for i in range(60)
]


def write(folder: Path, clocks: str = KINDS, lives: list[str] = LIVES) -> Study:
    folder.mkdir(exist_ok=True)
    head = "engine,exit_hours,ending,meter,clock_doubt"
    (folder / "lives.csv").write_text("\n".join([head, *lives]) + "\n")
    (folder / "study.toml").write_text(
        '[study]\ntitle = "t"\nanalysis_date = 2026-01-01\nclaimed_interval_h = 500\n'
        f"[hours.factors]\ntach = [1.2, 1.1, 1.3]\nhobbs = [0.9, 0.8, 1.0]\n{clocks}\n"
        '[[records]]\nfile = "lives.csv"\n'
    )
    return read_study(folder)


def built_of(study: Study):
    records = read_records(study)
    audit = audit_records(study, records)
    return records, audit, build_spells(study, records, audit)


def base_of(study: Study) -> SimpleNamespace:
    """Return what a chapter asks of a study."""
    built = built_of(study)[2]
    return SimpleNamespace(
        spells=built.spells, built=built, settings=study.settings, fit=try_fit(built.spells)
    )


def test_what_is_said_of_an_engine_goes_before_its_kind_and_that_before_the_rest(tmp_path):
    _, _, built = built_of(write(tmp_path))
    told = dict(zip(built.spells.unit.tolist(), built.spells.clock_sd.tolist(), strict=True))
    assert (told["E-7"], told["E-8"]) == (pytest.approx(0.2), 0.15)
    assert (told["E-0"], told["E-1"]) == (0.03, 0.08)
    assert math.isnan(told["E-2"])


@pytest.mark.parametrize(
    ("clocks", "said"),
    [
        ("tacho = 0.1", "clocks.doubts.tacho: unknown meter kind. Did you mean 'tach'? Known are: "
         "flight, tach, hobbs."),
        ("sundial = 0.1", "clocks.doubts.sundial: unknown meter kind. Known are: flight, tach"),
        ('tach = "much"', "clocks.doubts.tach = 'much': must be a number, such as 0.05"),
        ("tach = true", "clocks.doubts.tach = True: must be a number"),
        ("tach = 8", "clocks.doubts.tach = 8: must be from 0 to 0.5"),
        ("tach = -0.1", "clocks.doubts.tach = -0.1: must be from 0 to 0.5"),
        ("tach = nan", "clocks.doubts.tach = nan: must be from 0 to 0.5"),
    ],
)  # fmt: skip
def test_a_doubt_of_no_kind_of_meter_is_refused(tmp_path, clocks, said):
    with pytest.raises(SettingError) as refused:
        write(tmp_path, f"[clocks.doubts]\n{clocks}\n")
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("cell", "said", "cure"),
    [
        ("5", "5 is no doubt of a clock.", "Write 5 % or 0.05, at most 0.5"),
        ("60 %", "0.6 is no doubt of a clock.", "at most 0.5"),
        ("-0.1", "-0.1 is no doubt of a clock.", "at most 0.5"),
        ("large", "'large' is not a doubt of the clock.", "digits"),
        ("large %", "'large' is not a doubt of the clock.", "digits"),
    ],
)
def test_a_cell_that_is_no_doubt_is_told(tmp_path, cell, said, cure):
    study = write(tmp_path, lives=[*LIVES, f"E-99,700,running,tach,{cell}"])
    records = read_records(study)
    (f,) = [x for x in audit_records(study, records).findings if "clock-doubt" in x.code]
    assert (f.code, f.row, f.column) == ("clock-doubt-unreadable", 62, "clock_doubt")
    assert said in f.message
    assert cure in f.advice


def rows_of(spells) -> dict[tuple[float, ...], float]:
    columns = (spells.entry, spells.exit_lower, spells.exit_upper, spells.event,
               np.nan_to_num(spells.clock_sd, nan=-1.0))  # fmt: skip
    out: dict[tuple[float, ...], float] = {}
    for *row, w in zip(*columns, spells.weight, strict=True):
        key = tuple(round(float(x), 9) for x in row)
        out[key] = out.get(key, 0.0) + w
    return out


def test_a_long_table_and_a_bundle_of_pseudonyms_hold_the_same_doubts(tmp_path):
    """In the bundle each row keeps its kind of meter, so the doubts of kinds hold there too.

    Hours here are whole, so coarsening moves none.
    """
    study = write(tmp_path / "own")
    built = built_of(study)[2]
    assert rows_of(build_bulk(study).spells) == rows_of(built.spells)
    sent = pseudonymous_study(study, tmp_path / "sent", key=bytes(range(32))).study
    assert sent.settings.clocks == study.settings.clocks
    assert "E-7" not in (tmp_path / "sent" / "file-1.csv").read_text()
    assert rows_of(built_of(sent)[2].spells) == rows_of(built.spells)


def test_departures_name_each_kind_and_how_many_lives_it_touches(tmp_path):
    study = write(tmp_path)
    told = {d.key: d for d in list_departures(study, *built_of(study)).items}
    tach = told["clocks.doubts.tach"]
    assert tach.said == "Clocks that show tach hours may be wrong by 8 %"
    assert tach.effect == "19 lives in doubt so"  # of 20; one has a doubt of its own
    assert tach.turns


def test_the_report_lists_doubts_by_kind_with_their_engines(tmp_path):
    lives = base_of(write(tmp_path))
    told = chapter_clock_doubt(lives, {})
    assert [(x.whose, x.engines) for x in told.by_kind] == [
        ("tach", 19), ("flight", 20), ("own", 2), ("others", 19),
    ]  # fmt: skip
    assert sum(x.engines for x in told.by_kind) == lives.spells.n_engines
    table = compose_clock_doubt(told).blocks[2]
    assert [row[0].text if hasattr(row[0], "text") else row[0] for row in table.rows][:2] == [
        "tach hours", "flight hours",
    ]  # fmt: skip
    assert "by 1 % to 20 % (log standard deviation)" in told.sentence
    one = write(
        tmp_path / "one", "[clocks]\ndoubt = 0.05\n", [x.rpartition(",")[0] + "," for x in LIVES]
    )
    plain = chapter_clock_doubt(base_of(one), {})
    assert plain.by_kind == ()
    assert len(compose_clock_doubt(plain).blocks) == 2
    long = doubts_by_kind((), lives.spells, lives.settings)
    assert [(x.whose, x.engines) for x in long] == [("own", 41), ("others", 19)]
