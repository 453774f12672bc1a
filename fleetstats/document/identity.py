"""The report's id: the same inputs, settings and version give the same id."""

from __future__ import annotations

import hashlib
import json

from fleetstats import __version__
from fleetstats.advice.results import Results
from fleetstats.core.value import plain


def report_id(results: Results) -> str:
    """Return a short id made from input digests, settings and the version of the method."""
    h = hashlib.sha256()
    for f in sorted(results.provenance.files, key=lambda f: f.name):
        h.update(f"{f.name}\0{f.sha256}\n".encode())
    for a in results.assumptions:
        h.update(json.dumps([a.key, plain(a.value)], sort_keys=True, default=str).encode())
    h.update(__version__.encode())
    return f"FS-{h.hexdigest()[:10]}"
