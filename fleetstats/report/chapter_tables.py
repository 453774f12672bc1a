"""The tables of one chapter as CSV files, for the verbs that answer one question."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from fleetstats.chapters.registry import CHAPTERS
from fleetstats.core.files import write_whole
from fleetstats.core.value import Value
from fleetstats.document.document import Table
from fleetstats.report.tables import table_csv


def write_chapter_tables(key: str, done: Mapping[str, Value], folder: Path) -> tuple[Path, ...]:
    """Write each table of a chapter's section into `folder`, which is made if it is not there.

    A file is written whole or not at all; one of the same name is replaced.

    Parameters
    ----------
    key : str
        Key of the chapter.
    done : mapping of str to Value
        Its value and those of the chapters before it.
    folder : Path
        Where the files go.

    Returns
    -------
    tuple of Path
    """
    folder.mkdir(parents=True, exist_ok=True)
    out = []
    section = CHAPTERS[key].section_of(done)
    for table in (b for b in (section.blocks if section else ()) if isinstance(b, Table)):
        path = folder / f"{table.key}.csv"
        write_whole(path, table_csv(table))
        out.append(path)
    return tuple(out)
