"""Settings for lives that come from no folder: given by table and key, and checked as a file is."""

from __future__ import annotations

import datetime as dt
import typing
from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

from fleetstats.core.errors import SettingError
from fleetstats.core.gate import gate
from fleetstats.study.schema import load_keys
from fleetstats.study.settings import Settings, StudyKeys
from fleetstats.study.study_checks import check_settings
from fleetstats.vocabulary.nearest import did_you_mean

WITHOUT_FILE = {"title": "lives given as arrays", "analysis_date": dt.date(2000, 1, 1)}
"""What a study file must say and lives in arrays need not: stands in while the keys are checked."""


@gate()
def make_settings(**tables: Mapping[str, Any]) -> Settings:
    """Return settings with some keys set and every other at its default.

    Parameters
    ----------
    **tables : mapping
        Keys of one table of a study file and their values, as ``targets={"reliability": 0.95}``.

    Returns
    -------
    Settings
        Frozen, with every key that was not given at its default.

    Raises
    ------
    SettingError
        If a table or key is unknown or a value wrong; `problems` names each, and what is right.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.make_settings(targets={"reliability": 0.95}).targets.reliability
    0.95
    >>> fs.make_settings(targets={"reliability": 95})
    Traceback (most recent call last):
    fleetstats.core.errors.SettingError: ...
    """
    hints = typing.get_type_hints(Settings)
    problems = [f"{t}: unknown table. {did_you_mean(t, hints)}" for t in tables if t not in hints]
    built: dict[str, Any] = {}
    for f in fields(Settings):
        given: Any = tables.get(f.name, {})
        if f.name == "study" and isinstance(given, Mapping):
            given = WITHOUT_FILE | dict(given)
        built[f.name] = load_keys(hints[f.name], given, f.name, problems)[0]
    settings = Settings(**built)
    check_settings(settings, (), problems)
    if problems:
        raise SettingError("\n".join(problems), problems=tuple(problems))
    stood_in = {
        k: getattr(StudyKeys(), k) for k in WITHOUT_FILE if k not in tables.get("study", {})
    }
    return replace(settings, study=replace(settings.study, **stood_in))
