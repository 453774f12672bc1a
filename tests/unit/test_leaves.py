"""Every setting of the study file is in the report's number, and a departure is told as one.

The schema is walked: a setting that is added later is tried here without a line being written. The
invented study and its figures have no source.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import typing
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from fleetstats.study.key import FACT, OTHER, VERDICT
from fleetstats.study.leaves import leaves_of, settings_digest
from fleetstats.study.record_settings import RecordKeys
from fleetstats.study.settings import Settings, StudyKeys
from fleetstats.study.study import RecordFile, Study, read_study

TABLES = [f.name for f in dataclasses.fields(Settings)]
BARE = Settings(study=StudyKeys(title="t", analysis_date=dt.date(2026, 1, 1)))
FILE = RecordFile(file="a.csv")
STUDY = Study(folder=Path(), settings=BARE, files=(FILE, FILE), chosen=frozenset())


def other(now: Any, hint: Any) -> Any:
    """Return another value of the kind that a key has."""
    kinds = [a for a in typing.get_args(hint) if a is not type(None)]
    if typing.get_origin(hint) not in (tuple, dict) and kinds:
        hint = kinds[0]
    origin = typing.get_origin(hint) or hint
    if origin is tuple:
        item = typing.get_args(hint)[0]
        more = {"reason": "x"} if typing.get_origin(item) is dict else other(None, item)
        return (*now, more)
    if origin is dict:
        return {**now, "a word": "another"}
    if origin is bool:
        return not now
    if origin is int:
        return (now or 0) + 1
    if origin is float:
        return (now or 0.0) * (1 + 1e-12) + 1e-9  # a change that no rounded text shows
    if origin is dt.date:
        return (now or dt.date(2026, 1, 1)) + dt.timedelta(days=1)
    return f"{now or ''}x"


def changed() -> Iterator[tuple[str, Study]]:
    """Yield the study with each setting of the schema changed, one at a time."""
    for table in dataclasses.fields(Settings):
        keys = getattr(BARE, table.name)
        hints = typing.get_type_hints(type(keys))
        for f in dataclasses.fields(keys):
            x = other(getattr(keys, f.name), hints[f.name])
            part = dataclasses.replace(keys, **{f.name: x})
            settings = dataclasses.replace(BARE, **{table.name: part})
            yield f"{table.name}.{f.name}", dataclasses.replace(STUDY, settings=settings)
    hints = typing.get_type_hints(RecordKeys)
    for f in dataclasses.fields(RecordKeys):
        for at in (0, 1):
            files = [FILE, FILE]
            files[at] = dataclasses.replace(FILE, **{f.name: other(getattr(FILE, f.name),
                                                                   hints[f.name])})  # fmt: skip
            yield f"records[{at + 1}].{f.name}", dataclasses.replace(STUDY, files=tuple(files))


def test_two_studies_that_differ_in_any_setting_have_different_digests() -> None:
    told = dict(changed())
    assert len(told) > 100
    digests = {k: settings_digest(s) for k, s in told.items()} | {"": settings_digest(STUDY)}
    assert len(set(digests.values())) == len(digests)


def test_a_default_written_out_is_another_study_file() -> None:
    """The report says of each key whether the study states it."""
    stated = dataclasses.replace(STUDY, chosen=frozenset({"study.confidence"}))
    assert settings_digest(stated) != settings_digest(STUDY)


def test_every_setting_that_is_changed_is_told_as_a_departure_or_is_a_fact() -> None:
    assert [x.key for x in leaves_of(STUDY) if x.departs] == []
    for key, study in changed():
        table, _, name = key.partition(".")
        cls = RecordKeys if table.startswith("records") else type(getattr(BARE, table))
        (f,) = (f for f in dataclasses.fields(cls) if f.name == name)
        assert f.metadata["role"] in (FACT, OTHER, VERDICT), key
        departing = [x.key for x in leaves_of(study) if x.departs]
        if f.metadata["role"] == FACT:
            assert departing == [], key
            continue
        (one,) = departing
        assert one.startswith(table if table == "treat" else key), key


def write(folder: Path, more: str = "", records: str = "", head: str = "") -> Study:
    """Write and read a study of one file, with more of its own."""
    (folder / "lives.csv").write_text("engine,exit_hours,ending\nE1,100,running\n")
    (folder / "study.toml").write_text(
        f'{head}[study]\ntitle = "t"\nanalysis_date = 2026-01-01\n{more}\n'
        f'[[records]]\nfile = "lives.csv"\n{records}'
    )
    return read_study(folder)


def test_comments_change_the_file_s_digest_alone(tmp_path: Path) -> None:
    bare = write(tmp_path)
    noted = write(tmp_path, head="# a note\n\n")
    assert bare.source is not None
    assert noted.source is not None
    assert bare.source.sha256 != noted.source.sha256
    assert settings_digest(bare) == settings_digest(noted)


@pytest.mark.parametrize(
    ("records", "departs"),
    [
        ('endings = { failed = "planned-overhaul" }', True),
        ('endings = { Failure = "failed" }', False),  # what the word means by itself
        ('endings = { kaput = "failed" }', True),
        ('causes = { Piston = "piston" }', False),  # one word, as `fold` has it
        ('causes = { piston = "prop strike" }', True),
        ('columns = { exit_hours = "Total time" }', False),  # found by its name in any case
        ('columns = { exit_hours = "h" }', True),
        ('meter = "flight"', False),  # the standard clock, named
        ('meter = "tach"', True),
        ("header_row = 4", True),
        ('source = "club"', False),
    ],
)
def test_what_departs_in_a_file_s_own_settings(tmp_path: Path, records: str, departs: bool) -> None:
    more = "[hours.factors]\ntach = 1.0\n" if "tach" in records else ""
    study = write(tmp_path, more, records)
    assert [x.departs for x in leaves_of(study) if x.number and x.departs] == [True] * departs


def test_a_treat_that_says_what_is_done_anyway_is_no_departure(tmp_path: Path) -> None:
    study = write(tmp_path, '[treat]\nhours-unreadable = "stop"\nentry-missing = "set-aside"\n')
    told = {x.key: x.departs for x in leaves_of(study) if x.key.startswith("treat")}
    assert told == {"treat.hours-unreadable": False, "treat.entry-missing": True}
