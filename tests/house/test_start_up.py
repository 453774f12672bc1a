"""`import fleetstats` and the help page load no heavy library."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = [
    "pandas",
    "scipy",
    "matplotlib",
    "lifelines",
    "reliability",
    "openpyxl",
    "pyarrow",
    "jinja2",
    "typst",
    "rich",
    "cryptography",
    "starlette",
    "uvicorn",
    "anyio",
]


@pytest.mark.parametrize(
    "code",
    [
        "import fleetstats",
        "import fleetstats; fleetstats.read_study",
        "from click.testing import CliRunner; from fleetstats.cli import main; "
        "assert CliRunner().invoke(main, ['--help']).exit_code == 0",
    ],
    ids=["import", "public name", "help"],
)
def test_light(code: str) -> None:
    check = f"{code}; import sys; print([m for m in {HEAVY!r} if m in sys.modules])"
    out = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", check], capture_output=True, text=True, check=True
    )
    assert out.stdout.strip() == "[]"
