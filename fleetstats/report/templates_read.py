"""The templates, style sheets and scripts that pages are made from."""

from __future__ import annotations

from importlib import resources


def read_template(name: str) -> str:
    """Return one file of the folder of templates as text."""
    return (resources.files("fleetstats.report") / "templates" / name).read_text("utf-8")
