"""Two studies compared from their folders, and what is said of it: for the verb and the page."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from fleetstats.core.stages import silent
from fleetstats.core.units import text_hours
from fleetstats.studies.analyse import read_lives_of
from fleetstats.studies.compare.attribution import Walk, walk_advice
from fleetstats.studies.compare.declarations import say_declarations
from fleetstats.studies.compare.document import Side, trouble_sentence
from fleetstats.studies.compare.engines import KINDS, engine_changes
from fleetstats.studies.compare.reread import reread
from fleetstats.studies.compare.year import with_year, year_lines
from fleetstats.study.study import read_study
from fleetstats.vocabulary.caution import STANDING_NOTICE

MOST_ENGINES = 20
"""Engines that changed and are named in lines; a report names them all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """The earlier study, the later one, and the walk from one advice to the other."""

    before: Side
    after: Side
    walk: Walk

    def lines(self, *, notice: bool = True) -> list[str]:
        """Return what changed, line by line; the standing notice closes it unless left out."""
        walk, before, after = self.walk, self.before, self.after
        lines = [walk.sentence, "", f"{'step':44} {'plan from':>10} {'move':>9}  verdict"]
        for step in walk.steps:
            move = "" if step.move_h is None else f"{step.move_h:+,.0f} h"
            lines.append(
                f"{step.what:44} {text_hours(step.figure.plan_from_h):>10} {move:>9}  "
                f"{(step.figure.verdict or step.figure.state).replace('-', ' ')}"
            )
        lines += ["", trouble_sentence(walk)] if walk.trouble else []
        lines += ["", *year_lines(walk)]
        changes = engine_changes(
            before.spells, after.spells, hours_alike=after.study.settings.merge.hours_alike
        )
        odd = [c for c in changes if c.kind not in ("new", "gone")]
        declared = say_declarations(before.study, before.sources, after.study, after.sources)
        lines += ["", *declared] if declared else []
        lines += ["", *(f"{c.key}: {c.before} → {c.after}" for c in walk.settings)]
        lines += [f"{c.unit}: {KINDS[c.kind]}" for c in odd[:MOST_ENGINES]]
        if len(odd) > MOST_ENGINES:
            lines.append(f"and {len(odd) - MOST_ENGINES} engines more; --out writes them all")
        return [*lines, "", *STANDING_NOTICE] if notice else lines


def compare_folders(old: Path, new: Path, stage: Callable[[str], None] = silent) -> Compared:
    """Read two studies and walk from the advice of the earlier to that of the later.

    Parameters
    ----------
    old, new : Path
        Folders of the earlier and of the later study.
    stage : callable
        Sent what begins.

    Raises
    ------
    FleetstatsError
        If a study cannot be read or its audit stops it.
    """
    sides, lives = [], []
    for folder in (old, new):
        study = read_study(folder)
        stage(f"reading {study.name}")
        records, _, built = read_lives_of(study)
        sides.append(Side(study=study, sources=records.sources, spells=built.spells))
        lives.append(built)
    before, after = sides
    stage("walking from the old advice to the new")
    anew = reread(before.study, after.study)
    walk = walk_advice(
        before.study, before.spells, after.study, after.spells,
        read_anew=None if anew is None else anew.spells,
        trouble="" if anew is None else anew.trouble,
    )  # fmt: skip
    stage("grading last year")
    walk = with_year(walk, before.study, lives[0], after.study, lives[1])
    return Compared(before=before, after=after, walk=walk)
