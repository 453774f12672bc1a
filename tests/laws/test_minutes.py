"""A study whose hours are written in minutes gives the answers of the one written in hours."""

from __future__ import annotations

import csv
import io
import json
import math
import re
import shutil
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.condition.condition import read_condition
from fleetstats.records.hours import MAX_HOURS
from fleetstats.records.readers import read_records
from fleetstats.spells.bulk.bulk import build_bulk
from fleetstats.study.study import RecordFile, read_study
from fleetstats.tables.columns import field_words
from fleetstats.vocabulary.fields.bench import BENCH_FIELDS
from fleetstats.vocabulary.fields.checks import CHECK_FIELDS
from fleetstats.vocabulary.fields.headers import plain_name
from fleetstats.vocabulary.fields.leakdown import LEAKDOWN_FIELDS
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS

DATASETS = Path(__file__).parents[2] / "datasets"
FIELDS = {"lives": LIFE_FIELDS, "log": LOG_FIELDS, "checks": CHECK_FIELDS,
          "leakdown": LEAKDOWN_FIELDS, "bench": BENCH_FIELDS}  # fmt: skip
NAMES = sorted(p.parent.name for p in DATASETS.glob("*/study.toml"))


def minutes(cell: str) -> str:
    """Return hours of a cell in minutes, digit by digit; what is no plain number stays."""
    mark = "," if "," in cell else "."
    if not re.fullmatch(r"[0-9]+([.,][0-9]+)?", cell):
        return cell
    return f"{Decimal(cell.replace(',', '.')) * 60:f}".replace(".", mark)


def rewrite(file: RecordFile, in_hours: set[str]) -> None:
    """Write the columns of hours of a file in minutes."""
    text = file.path.read_text(encoding="utf-8")
    mark = ";" if ";" in text.splitlines()[0] else ","
    rows = list(csv.reader(io.StringIO(text), delimiter=mark))
    words = field_words(FIELDS[file.shape]) | {plain_name(t): o for o, t in file.columns.items()}
    at = [i for i, head in enumerate(rows[0]) if words.get(plain_name(head)) in in_hours]
    assert at or file.shape == "bench"
    for row in rows[1:]:
        for i in at:
            row[i] = minutes(row[i])
    out = io.StringIO()
    csv.writer(out, delimiter=mark, lineterminator="\n").writerows(rows)
    file.path.write_text(out.getvalue(), encoding="utf-8")


def in_minutes(folder: Path, *, bench_hours: bool = False) -> Path:
    """Rewrite a study in place: its files in minutes, and the unit in its study file."""
    for file in read_study(folder).files:
        names = {f.name for f in FIELDS[file.shape] if f.unit == "h"}
        rewrite(file, names | {"life"} if bench_hours else names)
    path = folder / "study.toml"
    text = path.read_text(encoding="utf-8")
    line = '[hours]\nunit = "min"\n'
    text = text.replace("[hours]\n", line) if "[hours]\n" in text else f"{line}\n{text}"
    path.write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module", params=NAMES)
def two(request, tmp_path_factory) -> tuple[Path, Path]:
    """Return a shipped study as it is, and in minutes."""
    out = []
    for name in ("hours", "minutes"):
        folder = tmp_path_factory.mktemp(name) / request.param
        shutil.copytree(DATASETS / request.param, folder)
        out.append(folder)
    return out[0], in_minutes(out[1])


def alike(a: Any, b: Any) -> bool:
    """Return whether two answers agree; figures may differ by the rounding of a division by 60."""
    if isinstance(a, float) and isinstance(b, float | int):
        return math.isclose(a, b, rel_tol=1e-6, abs_tol=1e-9)
    if isinstance(a, dict):
        return isinstance(b, dict) and a.keys() == b.keys() and all(alike(a[k], b[k]) for k in a)
    if isinstance(a, list):
        return len(a) == len(b) and all(map(alike, a, b))
    return bool(a == b)


def counts(folder: Path) -> dict[str, Any]:
    study = read_study(folder)
    audit = audit_records(study, read_records(study))
    condition = read_condition(study, audit.used)
    return {
        "findings": sorted(f.code for f in (*audit.findings, *condition.findings)),
        "accounts": [(a.file, a.n_read, a.n_used, a.reasons) for a in audit.accounts],
        "condition": [
            (r.file, r.n_read, len(r.rows), [s.reason for s in r.set_aside])
            for r in condition.readings
        ],
        "lives": [[x.entry_h, x.exit_h, x.last_good_h, x.life_start_h] for x in audit.used],
        "checks": [[x.hours_h, x.oil_hours_h] for x in condition.checks],
        "readings": [[x.hours_h] for x in condition.leakdown],
        "bench": [[x.stress, x.life] for x in condition.bench],
    }


def test_the_same_rows_are_used(two) -> None:
    hours, minute = map(counts, two)
    for key in hours:
        assert alike(hours[key], minute[key]), key


@pytest.mark.parametrize("verb", ["claim", "interval", "trends", "bench", "causes"])
def test_the_same_answers_are_given(two, verb: str) -> None:
    if verb in ("interval", "trends", "bench") and two[0].name != "on-condition":
        pytest.skip("the study has no checks")
    told = []
    for folder in two:
        run = CliRunner().invoke(main, [verb, str(folder), "--json"])
        assert run.exit_code in (0, 3), run.output
        told.append(json.loads(run.stdout))
    assert alike(*told)


def test_bench_lives_in_hours_are_written_in_the_studys_unit(tmp_path: Path) -> None:
    out = []
    for name in ("hours", "minutes"):
        folder = tmp_path / name
        shutil.copytree(DATASETS / "on-condition", folder)
        toml = folder / "study.toml"
        text = toml.read_text(encoding="utf-8")
        toml.write_text(text.replace('life_unit = "cycles"', 'life_unit = "h"'), encoding="utf-8")
        out.append(in_minutes(folder, bench_hours=True) if name == "minutes" else folder)
    hours, minute = map(counts, out)
    assert hours["bench"]
    assert alike(hours["bench"], minute["bench"])


ROWS = "engine,exit_hours,ending\nE-1,{},running\nE-2,{},failed\nE-3,{},running\n"


def test_the_limit_is_held_against_hours_by_every_reader(make_study) -> None:
    """1,700 h in minutes is more than 100,000 of them, and is used; 100,001 h is set aside."""
    near, far = str(60 * 1700), str(60 * (int(MAX_HOURS) + 1))
    records = '\n[[records]]\nfile = "lives.csv"\nsource = "A"\n' + "".join(
        f'[[records]]\nfile = "{s}.csv"\nshape = "{s}"\n' for s in ("log", "checks", "leakdown")
    )
    study = make_study(
        ROWS.format(near, near, far),
        settings='[hours]\nunit = "min"\n[treat]\nhours-impossible = "set-aside"\n',
        records=records,
        more={
            "log.csv": f"engine,hours,kind\nL-1,0,installed\nL-1,{near},reading\n"
            f"L-1,{far},reading\n",
            "checks.csv": f"engine,hours,result,oil_hours\nE-1,{near},clean,{near}\n"
            f"E-1,{far},clean,\nE-1,{near},clean,{far}\n",
            "leakdown.csv": f"engine,hours,cylinder,reading\nE-1,{near},1,70\nE-1,{far},1,70\n",
        },
    )
    audit = audit_records(study, read_records(study))
    assert [x.exit_h for x in audit.used] == [1700.0, 1700.0, 1700.0]
    assert audit.reasons == {"hours-impossible": 1, "log-hours-impossible": 1}
    condition = read_condition(study, audit.used)
    assert [(c.hours_h, c.oil_hours_h) for c in condition.checks] == [(1700.0, 1700.0)]
    assert [r.hours_h for r in condition.leakdown] == [1700.0]
    assert [s.reason for r in condition.readings for s in r.set_aside] == [
        "hours-impossible", "oil_hours-impossible", "hours-impossible",
    ]  # fmt: skip


def test_tables_read_by_chunks_hold_the_same_limit(make_study) -> None:
    near, far = str(60 * 1700), str(60 * (int(MAX_HOURS) + 1))
    study = make_study(
        ROWS.format(near, near, far),
        settings='[hours]\nunit = "min"\n[treat]\nhours-impossible = "set-aside"\n',
    )
    bulk = build_bulk(study)
    assert (bulk.n_used, bulk.reasons) == (2, {"hours-impossible": 1})
    assert bulk.spells.oldest_h == 1700.0


@pytest.mark.parametrize("cell", ["812:30", "812.5 h", "812,5 hrs"])
def test_a_cell_that_names_its_unit_is_hours_in_every_study(make_study, cell: str) -> None:
    mark = "," if "," in cell else "."
    study = make_study(
        f'engine,exit_hours,ending\nE-1,"{cell}",running\n',
        settings='[hours]\nunit = "min"\n',
        records=f'\n[[records]]\nfile = "lives.csv"\nsource = "A"\ndecimal = "{mark}"\n',
    )
    assert [x.exit_h for x in audit_records(study, read_records(study)).used] == [812.5]
