"""What tests of every kind share: a study made of a few lines of text."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

# Runs on the folders in datasets/ must leave them as they are; tests of the ledger take this away.
os.environ["FLEETSTATS_NO_HISTORY"] = "1"

HEAD = """\
[study]
title = "Test fleet"
analysis_date = 2025-12-31
"""
RECORDS = '\n[[records]]\nfile = "lives.csv"\nsource = "club A"\n'


@pytest.fixture
def make_study(tmp_path: Path) -> Callable[..., Any]:
    """Return a maker of studies: text of the record file, more settings, more files."""

    def make(
        rows: str | bytes = "engine,exit_hours,ending\nE-1,100,running\n",
        settings: str = "",
        *,
        records: str = RECORDS,
        name: str = "lives.csv",
        head: str = HEAD,
        more: dict[str, str] | None = None,
    ) -> Any:
        from fleetstats.study.study import read_study

        data = rows if isinstance(rows, bytes) else rows.encode("utf-8")
        (tmp_path / name).write_bytes(data)
        for other, text in (more or {}).items():
            (tmp_path / other).write_text(text, encoding="utf-8")
        text = head + settings + records.replace("lives.csv", name)
        (tmp_path / "study.toml").write_text(text, encoding="utf-8")
        return read_study(tmp_path)

    return make


@pytest.fixture
def audited(make_study: Callable[..., Any]) -> Callable[..., Any]:
    """Return a maker of (study, records, audit)."""

    def run(*args: Any, **kwargs: Any) -> Any:
        from fleetstats.records.audit.audit import audit_records
        from fleetstats.records.readers import read_records

        study = make_study(*args, **kwargs)
        records = read_records(study)
        return study, records, audit_records(study, records)

    return run
