"""From a study and its records to its departures, each with what it changed in counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from fleetstats.chapters.departures.rules import caution_mapped
from fleetstats.chapters.departures.values import Departure, DepartureList, Stated
from fleetstats.chapters.departures.words import (
    prompt_line,
    say_map,
    say_question,
    say_setting,
    say_value,
    short_lines,
)
from fleetstats.records.audit.finding import Audit
from fleetstats.records.life import LifeRow
from fleetstats.records.mends.words import say_effects, say_mends
from fleetstats.records.reading import Records
from fleetstats.records.told import ToldFile
from fleetstats.records.undone import Undone, lives_told, undo_maps, undo_settings
from fleetstats.spells.build import Built
from fleetstats.spells.bulk.bulk import Bulk
from fleetstats.spells.splits import split_modified
from fleetstats.study.assumptions import text_value
from fleetstats.study.key import FACT, VERDICT
from fleetstats.study.leaves import MAPS, Leaf, leaves_of
from fleetstats.study.record_settings import LIFE_SHAPES
from fleetstats.study.study import MENDS_FILE, RecordFile, Study
from fleetstats.vocabulary.wording import count

PART = "Departures from default"
"""Title of the part of a report that lists them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """What the counts rest on: the study, its records, and what each setting changed in them.

    `maps` holds what maps changed by the number of the file and their key; `question` by key.
    """

    study: Study
    records: Records
    audit: Audit
    built: Built
    bulk: Bulk | None
    maps: dict[int, dict[str, Undone]] = field(default_factory=dict)
    question: dict[str, Undone] = field(default_factory=dict)

    @property
    def reasons(self) -> dict[str, int]:
        """Return how many rows were set aside for each kind of finding."""
        return self.audit.reasons if self.bulk is None else self.bulk.reasons

    def found(self, code: str) -> int:
        """Return how many findings of a kind there are."""
        if self.bulk is not None:
            return self.bulk.counts.get(code, 0)
        return sum(f.code == code for f in self.audit.findings)

    def rows_of(self, file: str) -> int:
        """Return how many rows of a file were read."""
        return sum(a.n_read for a in self.audit.accounts if a.file == file)


def list_departures(
    study: Study, records: Records, audit: Audit, built: Built, bulk: Bulk | None = None
) -> DepartureList:
    """Return every departure of a study with what it changed, and its cautions.

    Parameters
    ----------
    study : Study
        The study.
    records, audit, built : Records, Audit, Built
        What was read, audited and counted of it.
    bulk : Bulk, optional
        The account of a table that was read by chunks; its rows take the place of lives.
    """
    every = leaves_of(study)
    leaves = [x for x in every if x.departs]
    counted = Counted(
        study=study, records=records, audit=audit, built=built, bulk=bulk,
        maps=_maps(study, records, bulk), question=_question(study, audit, bulk, leaves),
    )  # fmt: skip
    items = (*(_departure(x, counted) for x in leaves), *_mends(records))
    return DepartureList(
        items=items,
        stated=_stated(every),
        lines=short_lines(items, f"“{PART}” in the report"),
        prompt_lines=(prompt_line(items),),
        cautions=caution_mapped(leaves, counted.maps, counted.question, lives=bulk is None),
    )


def _mends(records: Records) -> tuple[Departure, ...]:
    """Return what was decided about cells and rows as one departure, which no setting holds."""
    mended = records.mended
    if not mended:
        return ()
    return (
        Departure(
            key=MENDS_FILE,
            said=f"By decision {say_mends(mended)}",
            value=count(len(mended), "mend"),
            default="none",
            effect=say_effects(mended),
            turns=any(m.effect for m in mended),
            n=len(mended),
            turned=sum(m.effect == "removed" for m in mended),
        ),
    )


def _maps(study: Study, records: Records, bulk: Bulk | None) -> dict[int, dict[str, Undone]]:
    """Return what the maps of each file changed, by its number."""
    told = [r.told for r in records.readings] if bulk is None else bulk.told
    files = [(i, f) for i, f in enumerate(study.files, 1) if f.shape in LIFE_SHAPES]
    first: dict[str, int] = {}
    by_number: dict[int, tuple[RecordFile, ToldFile]] = {}
    for (number, file), words in zip(files, told, strict=False):
        if words is None:
            continue
        # the files of one pattern have one set of maps, told of the first
        number = first.setdefault(file.pattern or file.file + file.sheet, number)
        known = by_number.get(number)
        more = words if known is None else replace(known[1], rows=(*known[1].rows, *words.rows))
        by_number[number] = (file if known is None else known[0], more)
    return {n: undo_maps(words, f, study.settings) for n, (f, words) in by_number.items()}


def _question(
    study: Study, audit: Audit, bulk: Bulk | None, leaves: list[Leaf]
) -> dict[str, Undone]:
    """Return what each key of the question changed, and each rule."""
    names = [x.key.partition(".")[2].partition("[")[0] for x in leaves
             if x.key.startswith("question.")]  # fmt: skip
    if not names:
        return {}
    lives: list[tuple[LifeRow, int]]
    if bulk is None:
        lives = [(y, y.count) for x in audit.used for y in split_modified(x)]
    else:
        files: dict[str, RecordFile] = {f.file: f for f in study.of_shape("lives")}
        lives = [x for t in bulk.told for x in lives_told(t, files[t.file], study.settings)]
    return undo_settings(lives, study.settings, tuple(dict.fromkeys(names)))


def _departure(leaf: Leaf, counted: Counted) -> Departure:
    effect, n, turned = _effect(leaf, counted)
    return Departure(
        key=leaf.key,
        said=say_setting(leaf),
        value=say_value(leaf),
        default="none" if leaf.default is None else text_value(leaf.default),
        effect=effect,
        turns=leaf.role == VERDICT,
        file=leaf.file,
        n=n,
        turned=turned,
    )


def _effect(leaf: Leaf, c: Counted) -> tuple[str, int | None, int]:
    """Return what a departure changed in words, how many it touches, how many it turned."""
    table, _, rest = leaf.key.partition(".")
    if leaf.number:
        return _effect_of_file(leaf, c, rest.partition(".")[0])
    if table == "treat":
        aside = leaf.value == "set-aside"
        n = c.reasons.get(leaf.name, 0) if aside else c.found(leaf.name)
        return count(n, "row" if aside else "finding"), n, 0
    if table == "question":
        undone = c.question.get(rest)
        text = say_question(undone, "life" if c.bulk is None else "row")
        return text, 0 if undone is None else undone.n, 0 if undone is None else undone.turned
    if leaf.key == "study.since" and c.built.since is not None:
        cut = c.built.since
        return (
            (
                f"{count(cut.n_over, 'life', 'lives')} ({count(cut.failed_over, 'failure')}) and "
                f"{cut.hours_before:,.0f} h before it not counted"
            ),
            cut.n_over,
            cut.failed_over,
        )
    if leaf.key == "hours.carry_to_analysis_date":
        return f"{c.records.hours_carried:,.0f} h added to what was read", None, 0
    if leaf.key.startswith("hours.factors.") and c.bulk is None:
        n = sum(x.meter == leaf.name for x in c.audit.used)
        return f"{count(n, 'life', 'lives')} converted", n, 0
    if leaf.key.startswith("clocks.doubts.") and c.bulk is None:
        kind = c.study.settings.hours.meter
        n = sum((x.meter or kind) == leaf.name and x.clock_doubt is None for x in c.audit.used)
        return f"{count(n, 'life', 'lives')} in doubt so", n, 0
    if leaf.key == "hours.rounded":
        n = _widened(c.built)
        return f"{count(n, 'failure')} taken as lying in an interval", n, 0
    return "", None, 0


def _effect_of_file(leaf: Leaf, c: Counted, table: str) -> tuple[str, int | None, int]:
    if table == "renews" or (table == "endings" and _shape_of(leaf, c) == "histories"):
        return "", None, 0  # what a status or a repair means is not counted by its words
    if table in MAPS:
        undone = c.maps.get(leaf.number, {}).get(f"{table}.{leaf.name}", Undone())
        if table == "columns" and not undone.turned:
            return f"{count(c.rows_of(leaf.file), 'row')} read so", c.rows_of(leaf.file), 0
        n = undone.turned if table == "columns" else undone.n
        return say_map(undone, table), n, undone.turned
    if table == "header_row":
        return f"{count(int(leaf.value) - 1, 'line')} above it not read", int(leaf.value) - 1, 0
    if table in ("meter", "decimal", "date_order"):
        return f"{count(c.rows_of(leaf.file), 'row')} read so", c.rows_of(leaf.file), 0
    return "", None, 0


def _shape_of(leaf: Leaf, c: Counted) -> str:
    return c.study.files[leaf.number - 1].shape


def _widened(built: Built) -> int:
    """Return how many failures given as exact are taken as lying in an interval."""
    s = built.spells
    exact = np.array([v.known_to == "exact" for v in built.verdicts], dtype=bool)
    wide = s.failed & (s.exit_lower < s.exit_upper)
    return int(s.weight[wide & exact].sum()) if len(exact) == len(s) else 0


def _stated(leaves: Sequence[Leaf]) -> tuple[Stated, ...]:
    """Return what the study file states that is no departure: facts, and defaults written out."""
    return tuple(
        Stated(
            key=x.key,
            value=text_value(x.value),
            why="asked or known" if x.role == FACT else "as by default",
            doc=x.doc,
        )
        for x in leaves
        if x.stated and not x.departs
    )
