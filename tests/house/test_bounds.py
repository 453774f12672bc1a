"""The lowest versions that are declared are those that are tried, and CI takes what is locked."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
EXTRAS = PROJECT["optional-dependencies"]
TRIED = [*PROJECT["dependencies"], *EXTRAS["test"], *EXTRAS["scheduler"]]
_NEED = re.compile(r"([A-Za-z0-9_.-]+)(?:\[[a-z,]+\])?>=([0-9.]+),<([0-9.]+)")


def pins(name: str) -> dict[str, str]:
    lines = (ROOT / ".ci" / name).read_text("utf-8").splitlines()
    told = [x.partition("==") for x in lines if x and not x.lstrip().startswith("#")]
    assert all(sep for _, sep, _ in told)
    return {a.strip().lower(): b.strip() for a, _, b in told}


def bounds(need: str) -> tuple[str, str, str]:
    found = _NEED.fullmatch(need)
    assert found is not None, need
    return found[1].lower(), found[2], found[3]


def parts(version: str) -> list[int]:
    return [int(x) for x in re.findall(r"\d+", version)[:3]]


@pytest.mark.parametrize("need", TRIED)
def test_the_lowest_version_declared_is_the_one_tried(need: str) -> None:
    name, low, _ = bounds(need)
    tried, asked = parts(pins("lowest.txt")[name]), parts(low)
    # the lowest release at or above the bound; where 2.2 is asked, 2.2.2 may be the first
    assert tried[: len(asked)] == asked


@pytest.mark.parametrize(
    "need", [x for x in (*TRIED, *EXTRAS["dev"]) if not x.startswith("fleetstats")]
)
def test_what_is_locked_for_ci_lies_within_the_bounds(need: str) -> None:
    name, low, high = bounds(need)
    locked = parts(pins("lock.txt")[name])
    assert parts(low) <= locked < parts(high)


def test_both_scripts_use_their_file() -> None:
    assert "-c .ci/lowest.txt" in (ROOT / ".ci" / "lowest").read_text("utf-8")
    assert "-c .ci/lock.txt" in (ROOT / ".ci" / "run").read_text("utf-8")
