"""The list of public names in the guide to the Python interface, made from the names themselves.

`python tests/docs_pages.py` writes it; a house test holds it to what would be written.
"""

from __future__ import annotations

import inspect
from pathlib import Path
from typing import Any

import fleetstats
from fleetstats.names import GROUPS

BEGIN = "<!-- made from fleetstats/names.py by tests/docs_pages.py: begin -->"
END = "<!-- end -->"


def first_line(held: Any) -> str:
    """Return the first sentence of what a name says of itself, on one line."""
    text = inspect.getdoc(held) or ""
    return " ".join(text.split("\n\n")[0].split()).removesuffix(".")


def names_list() -> str:
    """Return all public names by group, a line each."""
    out = [BEGIN, ""]
    for title, names in GROUPS.items():
        out += [f"### {title}", ""]
        out += [f"- `fs.{n}`: {first_line(getattr(fleetstats, n))}" for n in names]
        out.append("")
    return "\n".join([*out, END])


def with_names(text: str) -> str:
    """Return the text of the guide with its list of names made anew."""
    before, _, rest = text.partition(BEGIN)
    return before + names_list() + rest.partition(END)[2]


def write_names(docs: Path) -> None:
    """Write the list into the guide in the folder of docs."""
    page = docs / "api.md"
    page.write_text(with_names(page.read_text(encoding="utf-8")), encoding="utf-8")
