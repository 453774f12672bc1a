"""A study without identities: what may travel when members' names may not.

The lives that the study uses are written anew in our own record shape, with pseudonyms for engines
and sources, dates coarsened to months, and nothing else of the originals: no owner columns, notes,
component serials or spellings. The originals stay at home; the bundle carries a keyed hash of each,
so that whoever holds the key and the files can prove later that these are the ones.
"""

from __future__ import annotations

import calendar
import csv
import datetime as dt
import hashlib
import hmac
import io
import math
import secrets
from collections import Counter
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

from fleetstats.chapters.departures import DepartureList
from fleetstats.core.errors import ReportError
from fleetstats.records.audit.finding import Audit
from fleetstats.records.life import LifeRow
from fleetstats.records.told_values import write_told
from fleetstats.report.bundle.leaving import LEFT_OUT
from fleetstats.report.bundle.pack import study_members
from fleetstats.study.declared import DECLARED_FILE
from fleetstats.study.history import HISTORY_FILE, read_history
from fleetstats.study.settings import Settings
from fleetstats.study.study import MENDS_FILE, STUDY_FILE, Study, read_study
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.fields.categories import NOT_GIVEN, known_levels, level_of
from fleetstats.vocabulary.fold import fold

RECORDS = "lives.csv"
KEY_BYTES = 32
STAYING = ("records[", "treat.", "merge.decisions", "hours.", "clocks.doubts", MENDS_FILE)
"""Settings and decisions that act on the original files, which stay at home."""
ORIGIN_KEYS = frozenset({
    "identities", "rows_read", "rows_used", "rows_set_aside", "reasons", "meters", "factors",
    "departures", "looks", "keyed_hashes",
})  # fmt: skip
"""What a bundle's list says of the files that stayed at home."""
HEAD = (
    "engine", "source", "build", "entry_hours", "exit_hours", "last_good_hours", "ending", "cause",
    "confirmed", "in_service_date", "last_reading_date", "ended_date", "found_at_teardown",
    "overhauled_at_hours",
)  # fmt: skip


def read_key(path: Path) -> bytes:
    """Return the key of the pseudonyms; make it, readable by its owner alone, where there is none.

    The key comes from the system's source of secrets, not from the study's seed: pseudonyms that
    anybody could draw again would hide nobody.
    """
    try:
        if path.exists():
            key = bytes.fromhex(path.read_text(encoding="ascii").strip())
        else:
            key = secrets.token_bytes(KEY_BYTES)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.touch(mode=0o600, exist_ok=False)
            path.write_text(key.hex() + "\n", encoding="ascii")
    except (OSError, ValueError) as error:
        raise ReportError(
            f"The key file '{path.name}' cannot be used ({error}).",
            f"It holds {2 * KEY_BYTES} hexadecimal digits; name a new file to make one.",
        ) from None
    if len(key) < KEY_BYTES:
        raise ReportError(
            f"The key in '{path.name}' is too short.", f"Use {2 * KEY_BYTES} hexadecimal digits."
        )
    return key


def pseudonym(text: str, key: bytes, kind: str) -> str:
    """Return a stable pseudonym: the same text under the same key, nothing readable in it."""
    if not text:
        return ""
    digest = hmac.new(key, f"{kind}\0{text}".encode(), hashlib.sha256).hexdigest()
    return f"{capital(kind)[0]}-{digest[:12]}"


def write_pseudonymous(
    study: Study,
    audit: Audit,
    folder: Path,
    *,
    key: bytes,
    n_built: int | None = None,
    departures: DepartureList | None = None,
) -> tuple[Study, dict[str, Any]]:
    """Write the study without identities into `folder` and read it back.

    Parameters
    ----------
    study : Study
        The original.
    audit : Audit
        Its audit; the rows used travel.
    folder : Path
        Where the new study goes.
    key : bytes
        Key of the pseudonyms.
    n_built : int, optional
        Engines on the list of serials, which stays at home; their number takes its place, so that
        engines of unknown fate stay counted.
    departures : DepartureList, optional
        What the original's own choices changed. Maps and treatments have nothing left to act on in
        the bundle, so what they did is told with its origin.

    Returns
    -------
    (Study, dict)
        The new study, and what the bundle's list says of its origin.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / RECORDS).write_text(_records(study, audit, key), encoding="utf-8", newline="")
    told = _settings(_without_names(study, audit, key, n_built))
    (folder / STUDY_FILE).write_text(told, encoding="utf-8", newline="")
    ledger = read_history(study.folder)
    origin = {
        "identities": "pseudonyms",
        "rows_read": audit.n_read,
        "rows_used": audit.n_used,
        "rows_set_aside": audit.n_set_aside,
        "reasons": audit.reasons,
        "meters": dict(Counter(r.meter or study.settings.hours.meter for r in audit.used)),
        "factors": study.settings.hours.factors,
        "departures": [] if departures is None else tell_departures(departures),
        # the ledger itself names sources and settings, so it stays at home
        "looks": {"made": ledger.n_looks, "as_written": not ledger.flaws},
        "keyed_hashes": {
            f"file {i + 1}": hmac.new(key, data, hashlib.sha256).hexdigest()
            for i, (_, data) in enumerate(
                sorted(
                    (k, v)
                    for k, v in study_members(study).items()
                    if k not in (DECLARED_FILE, HISTORY_FILE, MENDS_FILE)
                )
            )
        },
    }
    return read_study(folder), origin


def tell_departures(departures: DepartureList) -> list[dict[str, object]]:
    """Return the choices that stay at home with the files they act on, files by their numbers."""
    out: list[dict[str, object]] = []
    for d in departures.items:
        if not d.key.startswith(STAYING):
            continue
        number = d.key.partition("[")[2].partition("]")[0]
        said = d.said.replace(d.file, f"file {number}") if d.file else d.said
        if d.key.startswith("merge.decisions"):  # it names an engine and rows
            said = "A conflict between returns was decided on"
        out.append({"key": d.key, "said": said, "effect": d.effect, "turned": d.turned})
    return out


def _records(study: Study, audit: Audit, key: bytes) -> str:
    covariates = study.settings.groups.covariates
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    # hours travel on the standard clock: what was stated of a kind of meter goes with its engines
    doubts = [_clock_doubt(r, study.settings) for r in audit.used]
    told = any(doubts)
    writer.writerow([*HEAD, *(("clock_doubt",) if told else ()), *covariates,
                     *study.settings.categories.columns])  # fmt: skip
    rows = [
        _row(r, study, key, covariates, (d,) if told else ())
        for r, d in zip(audit.used, doubts, strict=True)
    ]
    writer.writerows(sorted(rows))
    return out.getvalue()


def _clock_doubt(r: LifeRow, settings: Settings) -> str:
    """Return the doubt of a life's clock as stated for its engine or kind of meter, else blank."""
    told = settings.clocks.stated(r.clock_doubt, r.meter or settings.hours.meter)
    return "" if math.isnan(told) else repr(told)


def _row(
    r: LifeRow, study: Study, key: bytes, covariates: tuple[str, ...], more: tuple[str, ...]
) -> list[str]:
    last = study.settings.study.analysis_date
    since_overhaul = study.settings.hours.basis == "since-overhaul"
    # a life since overhaul is told on the clock since new, so that lives of one engine stay apart
    add = r.life_start_h if since_overhaul else 0.0
    return [
        pseudonym(r.engine_id, key, "engine"),
        pseudonym(r.source, key, "source"),
        r.build,
        repr(r.entry_h + add),
        repr(r.exit_h + add),
        "" if r.last_good_h is None else repr(r.last_good_h + add),
        r.ending,
        r.cause,
        _yes_no(r.confirmed),
        _month_start(r.in_service),
        _month_end(r.last_reading, last),
        _month_end(r.ended, last),
        _yes_no(r.found_at_teardown),
        repr(r.life_start_h) if since_overhaul and r.life_start_h > 0 else "",
        *more,
        *(repr(r.extra[c]) if c in r.extra else "" for c in covariates),
        *(_category(r, c, study, key, add) for c in study.settings.categories.columns),
    ]


def _category(r: LifeRow, column: str, study: Study, key: bytes, add_h: float) -> str:
    """Return the levels of a life in a column of words; where any word may stand, pseudonyms."""
    words = study.settings.categories.words
    out = []
    for hours, word in r.categories.get(column, ()):
        level = level_of(column, word, words) or NOT_GIVEN
        names = not known_levels(column, words) and level != NOT_GIVEN
        out.append((hours, pseudonym(level, key, column) if names else level))
    return write_told(tuple(out), add_h)


def _yes_no(x: bool | None) -> str:
    return "" if x is None else "yes" if x else "no"


def _month_start(day: dt.date | None) -> str:
    return "" if day is None else day.replace(day=1).isoformat()


def _month_end(day: dt.date | None, last: dt.date | None) -> str:
    """Return the month's last day, so that no coarsened date makes a life faster than it was."""
    if day is None:
        return ""
    end = day.replace(day=calendar.monthrange(day.year, day.month)[1])
    return (min(end, max(last, day)) if last is not None else end).isoformat()


def _without_names(study: Study, audit: Audit, key: bytes, n_built: int | None) -> Study:
    """Return the study with sources in its rules under pseudonyms, and a count for the serials."""
    s, chosen = study.settings, study.chosen
    known = {fold(r.source): r.source for r in audit.used}

    def hidden(source: str) -> str:
        return pseudonym(known.get(fold(source), source), key, "source")

    rules = tuple(
        r | {"source": hidden(str(r["source"]))} if r.get("source") else r for r in s.question.rules
    )
    s = replace(s, question=replace(s.question, rules=rules))
    if n_built is not None and s.fleet.built is None:
        s = replace(s, fleet=replace(s.fleet, built=n_built))
        chosen |= {"fleet.built"}
    return replace(study, settings=s, chosen=chosen)


def _settings(study: Study) -> str:
    lines: list[str] = []
    for table in fields(study.settings):
        keys = getattr(study.settings, table.name)
        chosen = [
            (f.name, getattr(keys, f.name))
            for f in fields(keys)
            if f"{table.name}.{f.name}" in study.chosen
            and f"{table.name}.{f.name}" not in LEFT_OUT
            and getattr(keys, f.name) is not None
        ]
        if table.name == "hours":
            chosen = [(k, v) for k, v in chosen if k in ("meter", "basis", "stale_days")]
        if chosen:
            lines += [f"[{table.name}]", *(f"{k} = {toml_value(v)}" for k, v in chosen), ""]
    meter = study.settings.hours.meter
    return "\n".join([
        *lines, "[[records]]", f'file = "{RECORDS}"', 'shape = "lives"', f'meter = "{meter}"', ""
    ])  # fmt: skip


def toml_value(value: object) -> str:
    """Write one value as TOML; strings are escaped, so that no text can become a key."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return "[" + ", ".join(toml_value(v) for v in value) + "]"
    if isinstance(value, dict):
        inner = ", ".join(f"{_quoted(str(k))} = {toml_value(v)}" for k, v in value.items())
        return "{ " + inner + " }"
    return _quoted(str(value))


def _quoted(text: str) -> str:
    out = []
    for c in text:
        if c in ('"', "\\"):
            out.append("\\" + c)
        elif ord(c) < 32 or ord(c) == 127:
            out.append(f"\\u{ord(c):04x}")
        else:
            out.append(c)
    return '"' + "".join(out) + '"'
