"""Whole or by chunks: how a study's record files are read, and why, in words.

Whole tables are what every chapter can look at. From a size on that takes long and much memory;
then the tables of a study are read by chunks, if nothing that the study asks for forbids it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from math import ceil

from fleetstats.advice.results import HowRead
from fleetstats.chapters.data import LEFT_OUT
from fleetstats.chapters.failing import name_of
from fleetstats.chapters.registry import CHAPTERS, quick_order, work_order
from fleetstats.core.errors import SettingError
from fleetstats.core.memory import say_memory
from fleetstats.spells.bulk.bulk_study import needed, table_files, unmet_conditions
from fleetstats.studies.long_chapters import LONG_CHAPTERS
from fleetstats.study.record_settings import LIFE_SHAPES
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.open_table import PARQUETS
from fleetstats.vocabulary.limits import CHUNKS_FROM_BYTES, CHUNKS_FROM_ROWS
from fleetstats.vocabulary.slugs import suffix_of

BASE_BYTES, BYTES_A_ROW, TEXT_A_ROW = 300_000_000, 16_000, 62
"""Memory of a study before it reads, and of each row of a table read whole with all chapters, as
measured at 5,000 and 20,000 rows of so many bytes of text."""

FROM = f"from {CHUNKS_FROM_BYTES / 2**20:g} MB of text or {CHUNKS_FROM_ROWS:,} rows of Parquet on"


def choose_reading(
    study: Study,
    chunks: bool | None = None,
    *,
    at_hand: bool = False,
    memory: int | None = None,
) -> HowRead:
    """Decide how a study's record files are read.

    Parameters
    ----------
    study : Study
        As read by `read_study`.
    chunks : bool, optional
        What is asked for; default, by the size of the study's tables.
    at_hand : bool
        Whether the rows have been read already.
    memory : int, optional
        Bytes that the work may take: shorter tables are then read by chunks too.

    Returns
    -------
    HowRead

    Raises
    ------
    SettingError
        If chunks are asked for where the study cannot be read so, or its rows are at hand.
    """
    if at_hand:
        if chunks:
            raise SettingError("Rows that are at hand are not read by chunks.")
        return _whole("at-hand", "Read whole: the rows were at hand.")
    if chunks:
        table_files(study)
        return _by_chunks("asked", "Read by chunks, as asked.")
    if chunks is not None:
        return _whole("asked", "Read whole, as asked.")
    n_bytes, n_rows = chunks_from(memory)
    files = study.of_shape(*LIFE_SHAPES)
    long = _long(files, n_bytes, n_rows)
    rule = FROM
    if (n_bytes, n_rows) != (CHUNKS_FROM_BYTES, CHUNKS_FROM_ROWS):
        rule = (
            f"from {n_bytes / 2**20:.2g} MB of text on within a memory of {say_memory(memory or 0)}"
        )
    if not long:
        return _whole("size", f"Read whole; tables of lives are read by chunks {rule}.")
    missing = unmet_conditions(study)
    if missing:
        why = f"Read whole, though {long}: by chunks only {needed(missing)}."
        return _whole("needs", why if memory is None else f"{why} {_tight(memory)}")
    return _by_chunks("size", f"Read by chunks, since {long}; it is the rule {rule}.")


def whole_to_merge() -> HowRead:
    """Return that tables are read whole, though long, since engines stand in several of them."""
    return _whole(
        "merging",
        "Read whole, though long: engines stand in more than one record file, and what several "
        "senders tell of an engine is merged only so.",
    )


def _tight(memory: int) -> str:
    return (
        f"That may take more memory than {say_memory(memory)}: a part that does not fit is left "
        "out, and if the lives themselves do not, nothing is written."
    )


@contextmanager
def told_what_would_do(study: Study, chunks: bool | None, memory: int | None) -> Iterator[None]:
    """Say of a study that a bound of memory does not hold which one would, or what else.

    Parameters
    ----------
    study, chunks, memory
        As for `choose_reading`; without a bound the lack of memory is told as it is.

    Raises
    ------
    SettingError
        Where the memory does not hold the lives themselves; a chapter that does not fit is left
        out.
    """
    try:
        yield
    except MemoryError:
        if memory is None:
            raise
        raise SettingError(
            f"The lives of this study do not fit into {say_memory(memory)}; nothing was written.",
            _what_would_do(study, chunks, memory),
        ) from None


def _what_would_do(study: Study, chunks: bool | None, memory: int) -> str:
    if choose_reading(study, chunks, memory=memory).by_chunks:
        return "Give --memory more, or fewer rows."
    rows = sum(map(_rows_about, study.of_shape(*LIFE_SHAPES)))
    need = ceil(max(BASE_BYTES + rows * BYTES_A_ROW, 1.5 * memory) / 1e8) * 1e8
    by_chunks = "" if unmet_conditions(study) else ", or --chunks"
    return (
        f"With all chapters some {rows:,.0f} rows, read whole, take about {say_memory(need)}: give "
        f"that to --memory{by_chunks}, or fewer rows."
    )


def _rows_about(file: RecordFile) -> float:
    """Return about how many rows a record file has, by its size; 0 where it cannot be opened."""
    try:
        if suffix_of(file.file) in PARQUETS:
            return float(_parquet_rows(file))
        return round(file.path.stat().st_size / TEXT_A_ROW, -2)
    except OSError:
        return 0.0


def chunks_from(memory: int | None) -> tuple[int, int]:
    """Return the bytes of text and the rows of Parquet from which on chunks are the rule."""
    if memory is None:
        return CHUNKS_FROM_BYTES, CHUNKS_FROM_ROWS
    rows = max(memory - BASE_BYTES, 0) // BYTES_A_ROW
    return min(CHUNKS_FROM_BYTES, rows * TEXT_A_ROW), min(CHUNKS_FROM_ROWS, rows)


def leave_out(how: HowRead, settings: Settings) -> HowRead:
    """Return how tables are read for a quick study, with the chapters that it leaves out.

    A table read by chunks lacks what it would lack without it, and beside that the same chapters.
    """
    kept = quick_order(CHAPTERS, settings)
    asked = [k for k in work_order(CHAPTERS) if k != "stress" or settings.stress.fleets]
    if how.by_chunks:
        asked = [k for k in asked if k in LONG_CHAPTERS]
    left = tuple(name_of(CHAPTERS[k]) for k in asked if k not in kept)
    return replace(how, left_out=(*how.left_out, *left), quick=True)


def option_of(chunks: bool | None) -> str:
    """Return the option of the verb that asks for the same."""
    return "" if chunks is None else " --chunks" if chunks else " --whole"


def _whole(reason: str, sentence: str) -> HowRead:
    return HowRead(by_chunks=False, reason=reason, sentence=sentence)


def _by_chunks(reason: str, sentence: str) -> HowRead:
    return HowRead(by_chunks=True, reason=reason, sentence=sentence, left_out=LEFT_OUT)


def _long(files: Sequence[RecordFile], from_bytes: int, from_rows: int) -> str:
    """Return how long tables are together, in words; "" below the size that makes chunks the rule.

    What cannot be opened is not long; the reader says what is wrong with it.
    """
    n_bytes = n_rows = 0
    for file in files:
        if suffix_of(file.file) in PARQUETS:
            n_rows += _parquet_rows(file)
        else:
            with suppress(OSError):
                n_bytes += file.path.stat().st_size
    if n_bytes / from_bytes + n_rows / from_rows < 1.0:
        return ""
    told = [f"{n_bytes / 2**20:,.1f} MB"] if n_bytes else []
    told += [f"{n_rows:,} rows"] if n_rows else []
    who = f"{files[0].file} has" if len(files) == 1 else f"{len(files):,} files have"
    return f"{who} {' and '.join(told)}"


def _parquet_rows(file: RecordFile) -> int:
    """Return the rows that a Parquet file states; 0 where it is none."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        return int(pq.read_metadata(file.path).num_rows)
    except (OSError, pa.ArrowException, ValueError):
        return 0
