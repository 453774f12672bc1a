"""The lives of a table read by chunks, paired and put together, kept beside what they rest on.

They rest on what the rows came to, which is kept by itself, and on a few settings that reading does
not ask. What the rows came to is not kept twice: rows and account are put in their places again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from fleetstats.chapters.data import Pairing
from fleetstats.core.shelf import Shelf
from fleetstats.spells.build import Built
from fleetstats.spells.bulk.bulk import BulkRead
from fleetstats.spells.bulk.bulk_sample import BulkSample, draw_fewer
from fleetstats.spells.bulk.kept_rows import digest_told, settings_stand, told_settings
from fleetstats.studies.long_chapters import Long
from fleetstats.studies.looked_at import MOST_CHECKED
from fleetstats.studies.reads import Reads, telling
from fleetstats.study.settings import Settings

KIND = "paired"

FROM_ROWS = 10_000
"""Rows below which pairing takes less time than it takes to look for what was kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paired:
    """The lives of a table, and the account of how they were put together.

    Parameters
    ----------
    built : Built
        In few rows.
    pairing : Pairing
        How few, and to which step hours were rounded.
    long : Long
        By label, of engines that run, and looked at one by one.
    """

    built: Built
    pairing: Pairing
    long: Long


def take_or_pair(
    shelf: Shelf | None, of_rows: str | None, read: BulkRead, settings: Settings,
    pair: Callable[[BulkRead, Settings], Paired],
) -> tuple[Paired, str | None]:  # fmt: skip
    """Return it as it was kept or as `pair` makes it, and the digest of what it rests on.

    Parameters
    ----------
    shelf : Shelf or None
        None keeps nothing.
    of_rows : str or None
        Digest of what the rows rest on; None where it is not told, and then nothing is kept.
    read : BulkRead
        What the rows came to.
    settings : Settings
        The study's.
    pair : callable
        Its errors are passed on.
    """
    if shelf is None or of_rows is None:
        return pair(read, settings), None

    def fits(about: Mapping[str, Any]) -> bool:
        return about["rows"] == of_rows and settings_stand(settings, about["settings"])

    found = shelf.take(KIND, fits)
    if found:
        return _with_rows(found[1], read, settings), digest_told(found[0])
    reads = Reads()
    made = pair(read, telling(settings, reads))
    about = {"rows": of_rows, "settings": told_settings(settings, reads.keys)}
    if read.bulk.n_read >= FROM_ROWS:
        shelf.keep(KIND, about, _without_rows(made))
    return made, digest_told(about)


def _without_rows(made: Paired) -> Paired:
    looked = made.long.looked
    bare = replace(looked.built, rows=(), verdicts=())
    alike = looked.checked is looked.built
    checked = bare if alike else replace(looked.checked, rows=(), verdicts=())
    return replace(
        made, long=replace(made.long, looked=replace(looked, built=bare, checked=checked))
    )


def _with_rows(made: Paired, read: BulkRead, settings: Settings) -> Paired:
    looked = made.long.looked
    built = _of(looked.built, read.sample)
    alike = looked.checked is looked.built
    fewer = read.sample if alike else draw_fewer(read.sample, MOST_CHECKED, settings.study.seed)
    looked = replace(looked, built=built, checked=built if alike else _of(looked.checked, fewer))
    return replace(made, long=replace(made.long, looked=looked, running=read.running))


def _of(built: Built, sample: BulkSample) -> Built:
    return replace(built, rows=sample.rows, verdicts=sample.verdicts)
