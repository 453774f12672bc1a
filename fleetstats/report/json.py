"""The report and its results as JSON: strict, sorted, the same bytes for the same content."""

from __future__ import annotations

import json
from typing import Any

from fleetstats.core.value import plain
from fleetstats.document.document import Document
from fleetstats.document.parts import data_version


def write_json_text(value: Any) -> str:
    """Return a value as strict JSON text with sorted keys and a last line end.

    NaN becomes null; infinities become the words that `core.value.plain` gives them.
    """
    return json.dumps(plain(value), sort_keys=True, allow_nan=False, ensure_ascii=False,
                      indent=1) + "\n"  # fmt: skip


def document_json(document: Document) -> str:
    """Return the whole report as JSON text, with its notice and the version of its data."""
    from fleetstats.vocabulary.caution import STANDING_NOTICE

    content = plain(document)
    content["standing_notice"] = list(STANDING_NOTICE)
    content["data_version"] = data_version(document)
    return write_json_text(content)


def script_json(value: Any) -> str:
    """Return JSON that may stand inside a script element of a page: no way out of it."""
    text = json.dumps(plain(value), sort_keys=True, allow_nan=False, ensure_ascii=True,
                      separators=(",", ":"))  # fmt: skip
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
