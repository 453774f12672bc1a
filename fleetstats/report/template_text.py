"""The text of the templates of page and paper."""

from __future__ import annotations

from importlib import resources


def read_template(name: str) -> str:
    """Return the text of a file of the folder `templates`."""
    return (resources.files("fleetstats.report") / "templates" / name).read_text("utf-8")
