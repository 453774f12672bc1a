"""The list of every serial built, so that engines missing from the records can be counted."""

from __future__ import annotations

from dataclasses import replace

from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.cells import text
from fleetstats.tables.columns import field_words
from fleetstats.tables.open_table import open_table
from fleetstats.tables.table import TableError
from fleetstats.vocabulary.fields.headers import plain_name
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.ids import normalise_id


def read_serials(study: Study) -> tuple[tuple[str, ...], tuple[Finding, ...]]:
    """Return the serials of `fleet.serials_file`, each once, and what was odd about the file.

    The column named like an engine id is taken, else the first. A first line that is no column
    name is a serial itself.
    """
    name = study.settings.fleet.serials_file
    if not name:
        return (), ()
    path = study.folder.joinpath(*name.replace("\\", "/").split("/"))
    try:
        table = open_table(RecordFile(file=name, path=path))
    except TableError as e:
        return (), (e.finding,)
    words = field_words(f for f in LIFE_FIELDS if f.name == "engine")
    heads = [plain_name(h) for h in table.header]
    at = next((i for i, h in enumerate(heads) if h in words), None)
    serials = [text(r.cells[at or 0]) for r in table.rows]
    if at is None:
        serials.insert(0, table.header[0])
    out: dict[str, str] = {}
    for s in serials:
        if normalise_id(s):
            out.setdefault(normalise_id(s), s[:80])
    found = [replace(f, row=None) for f in table.findings]
    n_empty = sum(not normalise_id(s) for s in serials)
    if n_empty or len(out) + n_empty < len(serials):
        n_twice = len(serials) - n_empty - len(out)
        found.append(
            make_finding("serials-odd", file=name, n=len(serials), n_empty=n_empty, n_twice=n_twice)
        )
    return tuple(out.values()), tuple(found)
