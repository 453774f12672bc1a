"""What tests of every kind share: a study made of a few lines of text, and workers' turns."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

# Runs on the folders in datasets/ must leave them as they are; tests of the ledger take this away.
os.environ["FLEETSTATS_NO_HISTORY"] = "1"
# Nothing is kept from one test to the next; tests of kept results name a folder of their own.
os.environ["FLEETSTATS_KEPT"] = "no"

HEAD = """\
[study]
title = "Test fleet"
analysis_date = 2025-12-31
"""
RECORDS = '\n[[records]]\nfile = "lives.csv"\nsource = "club A"\n'

LONGEST = (
    "unit/test_pseudonymous.py",
    "laws/test_one_verdict.py",
    "metamorphic/test_metamorphic.py",
    "integrity/test_bent_evidence.py",
    "laws/test_plan_from_laws.py",
    "laws/test_advice_odd_fleets.py",
    "desk/test_desk_browser.py",
    "desk/test_desk_rooms.py",
    "shops/test_shops.py",
    "unit/test_looks_made.py",
    "cli/test_trouble_cli.py",
    "integrity/test_tampered_bundles.py",
    "laws/test_prior_against_data.py",
    "unit/test_stress.py",
    "unit/test_beside.py",
    "cli/test_portfolio_cli.py",
    "house/test_additions.py",
    "coverage/test_source_coverage.py",
    "unit/test_by_chunks.py",
    "metamorphic/test_levels.py",
)
"""Files whose tests or fixtures take longest: begun first, so that no worker ends alone on one."""

APART = frozenset(
    {
        "integrity/test_bent_evidence.py",
        "laws/test_plan_from_laws.py",
        "laws/test_advice_odd_fleets.py",
    }
)
"""Those of them whose tests share nothing, so that workers may take them one by one."""


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[Any]:
    """Collect with the search for garbage cycles paused, and leave what lives on out of it.

    Modules, tests and their marks live as long as the run: walking over them again and again took
    half of the time of collecting, and a part of each test's.
    """
    gc.disable()
    try:
        return (yield)
    finally:
        gc.collect()
        gc.freeze()
        gc.set_threshold(10_000, 20, 10)  # arrays and values of a study hold next to no cycles
        gc.enable()


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Keep a file's tests on one worker, which makes its fixtures once, the longest first.

    Does nothing where tests do not run beside each other; heeded with ``--dist loadgroup``.
    """
    if not hasattr(config, "workerinput"):
        return
    turns: dict[int, int] = {}
    for item in items:
        file = item.path.relative_to(Path(__file__).parent).as_posix()
        turns[id(item)] = LONGEST.index(file) if file in LONGEST else len(LONGEST)
        if file not in APART and item.get_closest_marker("xdist_group") is None:
            item.add_marker(pytest.mark.xdist_group(file))
    items.sort(key=lambda item: turns[id(item)])


@pytest.fixture(scope="session", autouse=True)
def _one_processor_to_a_worker(request: pytest.FixtureRequest) -> Iterator[None]:
    """Let a study in a worker's own process start no process beside it.

    Each worker has its processor, so that a second process does nothing sooner: it only loads all
    libraries once more. What is done beside is tested where a test asks for it, and by processes
    that tests start.
    """
    with pytest.MonkeyPatch.context() as patch:
        if hasattr(request.config, "workerinput"):
            patch.setattr("fleetstats.core.beside.count_processors", lambda: 1)
        yield


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
