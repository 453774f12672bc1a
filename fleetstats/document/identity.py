"""The report's number: the same inputs, settings and version give the same number."""

from __future__ import annotations

import hashlib

from fleetstats import __version__
from fleetstats.advice.results import Results
from fleetstats.study.leaves import settings_digest


def report_id(results: Results) -> str:
    """Return a short number made from input digests, every setting and the method's version.

    Settings are those of the whole study file: maps, rules and the keys of each record file too.
    Its comments and the order of its keys do not count; the digest of its bytes stands under
    *Provenance*. A quick study has a number of its own.
    """
    h = hashlib.sha256()
    for f in sorted(results.provenance.files, key=lambda f: f.name):
        h.update(f"{f.name}\0{f.sha256}\n".encode())
    h.update(settings_digest(results.study).encode())
    h.update(__version__.encode())
    for chapter in results.chapters.values():  # what one read beside files, such as earlier looks
        h.update(getattr(chapter, "identity", "").encode())
    if results.how_read.quick:  # whoever signs one must not be taken to have signed the other
        h.update("\0".join(results.how_read.left_out).encode())
    return f"FS-{h.hexdigest()[:10]}"
