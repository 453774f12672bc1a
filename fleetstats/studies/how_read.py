"""Whole or by chunks: how a study's record files are read, and why, in words.

Whole tables are what every chapter can look at. From a size on that takes long and much memory;
then the one table of a study is read by chunks, if nothing that the study asks for forbids it.
"""

from __future__ import annotations

from fleetstats.advice.results import HowRead
from fleetstats.chapters.data import LEFT_OUT
from fleetstats.core.errors import SettingError
from fleetstats.spells.bulk.bulk_study import needed, only_file, unmet_conditions
from fleetstats.study.record_settings import LIFE_SHAPES
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.open_table import PARQUETS
from fleetstats.vocabulary.limits import CHUNKS_FROM_BYTES, CHUNKS_FROM_ROWS
from fleetstats.vocabulary.slugs import suffix_of

FROM = f"from {CHUNKS_FROM_BYTES / 2**20:g} MB of text or {CHUNKS_FROM_ROWS:,} rows of Parquet on"


def choose_reading(study: Study, chunks: bool | None = None, *, at_hand: bool = False) -> HowRead:
    """Decide how a study's record files are read.

    Parameters
    ----------
    study : Study
        As read by `read_study`.
    chunks : bool, optional
        What is asked for; default, by the size of the study's tables.
    at_hand : bool
        Whether the rows have been read already.

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
        only_file(study)
        return _by_chunks("asked", "Read by chunks, as asked.")
    if chunks is not None:
        return _whole("asked", "Read whole, as asked.")
    long = next((told for f in study.of_shape(*LIFE_SHAPES) if (told := _long(f))), "")
    if not long:
        return _whole("size", f"Read whole; one table of lives is read by chunks {FROM}.")
    missing = unmet_conditions(study)
    if missing:
        return _whole("needs", f"Read whole, though {long}: by chunks only {needed(missing)}.")
    return _by_chunks("size", f"Read by chunks, since {long}; it is the rule {FROM}.")


def option_of(chunks: bool | None) -> str:
    """Return the option of the verb that asks for the same."""
    return "" if chunks is None else " --chunks" if chunks else " --whole"


def _whole(reason: str, sentence: str) -> HowRead:
    return HowRead(by_chunks=False, reason=reason, sentence=sentence)


def _by_chunks(reason: str, sentence: str) -> HowRead:
    return HowRead(by_chunks=True, reason=reason, sentence=sentence, left_out=LEFT_OUT)


def _long(file: RecordFile) -> str:
    """Return how long a table is, in words; "" below the size from which chunks are the rule.

    What cannot be opened is not long; the reader says what is wrong with it.
    """
    try:
        if suffix_of(file.file) in PARQUETS:
            n_rows = _parquet_rows(file)
            return f"{file.file} has {n_rows:,} rows" if n_rows >= CHUNKS_FROM_ROWS else ""
        size = file.path.stat().st_size
    except OSError:
        return ""
    return f"{file.file} has {size / 2**20:,.1f} MB" if size >= CHUNKS_FROM_BYTES else ""


def _parquet_rows(file: RecordFile) -> int:
    """Return the rows that a Parquet file states; 0 where it is none."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        return int(pq.read_metadata(file.path).num_rows)
    except (pa.ArrowException, ValueError):
        return 0
