"""The text of the templates of page and paper."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable
from importlib import resources
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import jinja2


def read_template(name: str) -> str:
    """Return the text of a file of the folder `templates`."""
    return (resources.files("fleetstats.report") / "templates" / name).read_text("utf-8")


def page_environment(finalize: Callable[[Any], Any] | None = None) -> jinja2.Environment:
    """Return what fills in the templates of pages: all is escaped, and no name may be missing.

    `finalize` cleans each value on its way into the page.
    """
    import jinja2

    return jinja2.Environment(
        loader=jinja2.FunctionLoader(read_template),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=finalize,
        trim_blocks=True,
        keep_trailing_newline=True,
    )


def page_policy(script: str) -> str:
    """Return the content policy of a page that runs one script of its own and loads nothing."""
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return (
        f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )
