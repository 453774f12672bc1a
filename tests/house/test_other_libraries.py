"""The table of other libraries' names: each of ours exists, and each of theirs where installed."""

from __future__ import annotations

import importlib
import re
import shutil
import subprocess

import pytest
from docs_pages import DOCS

import fleetstats

PAGE = (DOCS / "other-libraries.md").read_text(encoding="utf-8")
ROW = re.compile(r"^\| (`.+?) \| (.+?) \| ?(.*?) ?\|$", re.MULTILINE)
CODE = re.compile(r"`([^`]+)`")
NONE = "—"
INNER_OF_R = re.compile(
    r".*(\.fit|\.control|KM|CI|Dtest|_setup|penal|formula|fit0|concordancefit)$|b(log|logit|probit)"
    r"|bcloglog|aeqSurv|attrassign|(is|is\.na|format)\.Surv|match\.ratetable|untangle\.specials"
)
"""What survival exports for its own methods: fitters below its doors, links, tests of kind."""


def rows(title: str) -> list[tuple[list[str], list[str], str]]:
    """Return the rows of a library: their names, ours, and what differs."""
    part = PAGE.split(f"\n## {title}\n")[1].split("\n## ")[0]
    return [(CODE.findall(a), CODE.findall(b), b + c) for a, b, c in ROW.findall(part)]


LIBRARIES = re.findall(r"^## (.+)$", PAGE, re.MULTILINE)


def resolved(path: str) -> object:
    """Return what a dotted name of Python stands for."""
    names = path.split(".")
    for n in range(len(names), 0, -1):
        try:
            held: object = importlib.import_module(".".join(names[:n]))
        except ModuleNotFoundError:
            continue
        for name in names[n:]:
            held = getattr(held, name)
        return held
    raise AttributeError(path)


@pytest.mark.parametrize("title", LIBRARIES)
def test_each_of_ours_exists_and_a_dash_says_why(title: str) -> None:
    for theirs, ours, told in rows(title):
        assert theirs, told
        assert ours or (told.startswith(NONE) and len(told) > 10), theirs
        for name in CODE.findall(told):
            if name.startswith("fs."):
                assert name.removeprefix("fs.") in fleetstats.__all__, name


@pytest.mark.parametrize("title", [t for t in LIBRARIES if not t.startswith("R: ")])
def test_each_of_theirs_exists(title: str) -> None:
    pytest.importorskip(title)
    names = [x for theirs, _, _ in rows(title) for x in theirs]
    assert len(names) == len(set(names)) >= 8
    for name in names:
        assert name.startswith(f"{title}."), name
        resolved(name)


def test_a_name_that_is_not_theirs_is_noticed() -> None:
    with pytest.raises(AttributeError):
        resolved("scipy.stats.weibull_least")


def test_every_function_of_r_survival_is_in_its_table() -> None:
    if shutil.which("Rscript") is None:
        pytest.skip("R is not installed")
    ask = 'if (!requireNamespace("survival")) quit(status = 3)\n'
    ask += 'cat(getNamespaceExports("survival"), sep = "\\n")'
    got = subprocess.run(["Rscript", "-e", ask], capture_output=True, text=True, check=False)
    if got.returncode == 3:
        pytest.skip("survival is not installed")
    exported = set(got.stdout.split())
    listed = {x for theirs, _, _ in rows("R: survival") for x in theirs}
    assert listed <= exported
    missing = {x for x in exported - listed if INNER_OF_R.fullmatch(x) is None}
    assert not missing, missing
