"""What is made from the public names: their list in the guide, and what a type checker reads.

`python tests/docs_pages.py` writes both; a house test holds them to what would be written.
"""

from __future__ import annotations

import inspect
from pathlib import Path
from typing import Any

import fleetstats
from fleetstats.names import GROUPS, RETIRED

BEGIN = "<!-- made from fleetstats/names.py by tests/docs_pages.py: begin -->"
END = "<!-- end -->"
STUB = Path(fleetstats.__file__).with_suffix(".pyi")
WIDEST = 100


def first_line(held: Any) -> str:
    """Return the first sentence of what a name says of itself, on one line."""
    text = inspect.getdoc(held) or ""
    return " ".join(text.split("\n\n")[0].split()).removesuffix(".")


def page_name(name: str) -> str:
    """Return the file of a name; types apart: a file system may not tell `Band` from `band`."""
    kind = "type-" if isinstance(getattr(fleetstats, name), type) else ""
    return f"{kind}{name.lower()}.md"


def names_list() -> str:
    """Return all public names by group, a line each."""
    out = [BEGIN, ""]
    for title, names in GROUPS.items():
        out += [f"### {title}", ""]
        out += [
            f"- [`fs.{n}`](reference/{page_name(n)}): {first_line(getattr(fleetstats, n))}"
            for n in names
        ]
        out.append("")
    return "\n".join([*out, END])


def with_names(text: str) -> str:
    """Return the text of the guide with its list of names made anew."""
    before, _, rest = text.partition(BEGIN)
    return before + names_list() + rest.partition(END)[2]


def stub_text() -> str:
    """Return the types of the public names: loaded on first use, they have none by themselves."""
    out = [
        '"""The public names for type checkers and editors: made by tests/docs_pages.py."""', "",
        "# ruff: noqa: I001",
    ]  # fmt: skip
    homes = {name: home for group in GROUPS.values() for name, home in group.items()}
    for old, (new, _, _) in RETIRED.items():
        module, _, inner = homes[new].partition(":")
        homes[old] = f"{module}:{inner or new}"
    for home, name in sorted((home, name) for name, home in homes.items()):
        module, _, inner = home.partition(":")
        start, what = f"from fleetstats.{module} import ", f"{inner or name} as {name}"
        fits = len(start + what) <= WIDEST
        out += [start + what] if fits else [f"{start}(", f"    {what},", ")"]
    names = [f'    "{n}",' for n in sorted(homes)]
    return "\n".join([*out, "", "__version__: str", "__all__ = [", *names, "]", ""])


def write_names(docs: Path) -> None:
    """Write the list into the guide in the folder of docs, and the types beside the package."""
    STUB.write_text(stub_text(), encoding="utf-8")
    page = docs / "api.md"
    page.write_text(with_names(page.read_text(encoding="utf-8")), encoding="utf-8")
