"""What the endings of a fleet would count as without a study's maps and without its own question.

Each map, rule and list of causes is undone, and the same failure rules judge again. A row or life
that then tells of a failure and does not as the study has it was turned by what was undone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, fields, replace
from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.log.log_replay import removal_ending
from fleetstats.records.rules import Ruling, judge_ending
from fleetstats.records.told import ToldFile, ToldRows, maps_met
from fleetstats.study.key import FACT
from fleetstats.study.schema import default_of
from fleetstats.study.settings import QuestionKeys, Settings
from fleetstats.study.study import RecordFile
from fleetstats.vocabulary.endings import ENDINGS_BY_WORD
from fleetstats.vocabulary.events import EVENTS_BY_WORD
from fleetstats.vocabulary.fields.headers import meaning_of, plain_name
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.trouble import ending_by_itself, event_by_itself
from fleetstats.vocabulary.unknown import cause_known

RANKS = {"failure": 2, "finding": 1}
"""How much of a failure it is, what an ending counts as; all else is none."""

NAMES_ITS_CAUSES = ("top-end", "accessory")
"""Levels that have no meaning without the causes that the study names."""

NOWHERE = Origin(file="")


@value
class Undone(Value):
    """What one setting changed.

    Parameters
    ----------
    n : int
        Rows or lives that it touches.
    turned : int
        Those of them that would count as failures, or as findings, without it, and count for less
        with it.
    failures : int
        Those of `turned` that would be failures.
    moves : dict
        From "failure to censored" and the like to how many; empty for maps.
    causes : dict
        Causes of those that were turned, to how many; empty for maps.
    """

    n: int = 0
    turned: int = 0
    failures: int = 0
    moves: dict[str, int] = field(default_factory=dict)
    causes: dict[str, int] = field(default_factory=dict)


@dataclass(slots=True)
class _Tally:
    """What is counted of each setting by its name."""

    n: Counter[str] = field(default_factory=Counter)
    turned: Counter[str] = field(default_factory=Counter)
    failures: Counter[str] = field(default_factory=Counter)
    moves: dict[str, Counter[str]] = field(default_factory=dict)
    causes: dict[str, Counter[str]] = field(default_factory=dict)

    def turn(self, names: Iterable[str], rank: int, n: int, cause: str = "") -> None:
        """Count what was turned, of what rank it was, and from which cause."""
        for name in names:
            if cause:
                self.causes.setdefault(name, Counter())[cause] += n
            self.turned[name] += n
            self.failures[name] += n if rank == RANKS["failure"] else 0

    def told(self) -> dict[str, Undone]:
        return {
            k: Undone(
                n=self.n[k],
                turned=self.turned[k],
                failures=self.failures[k],
                moves=dict(self.moves.get(k, {})),
                causes=dict(self.causes.get(k, Counter()).most_common()),
            )
            for k in dict.fromkeys([*self.n, *self.turned])
        }


@dataclass(slots=True)
class Judge:
    """The failure rules of one study, asked with its question and with parts of it undone."""

    settings: Settings
    known: dict[tuple[Any, ...], Ruling] = field(default_factory=dict)

    def ruling(self, life: LifeRow, without: str = "") -> Ruling:
        """Return what an ending counts as; `without` a key of the question, "rules" or "all"."""
        told = (without, life.ending, life.cause, life.confirmed, life.found_at_teardown,
                life.source, life.build)  # fmt: skip
        if told not in self.known:
            self.known[told] = judge_ending(life, undo_question(self.settings, without))
        return self.known[told]

    def rank(self, life: LifeRow, without: str = "") -> int:
        """Return how much of a failure an ending is."""
        return RANKS.get(self.ruling(life, without).counts_as, 0)

    def turned(self, now: LifeRow, undone: LifeRow) -> int:
        """Return how much of a failure an ending is once undone, if that is more than now; else 0.

        It is asked with the study's question and with none of its own: a list of causes may lean
        on a map. What no question alone restores is not the map's doing.
        """
        here = self.rank(now)
        asked, bare = self.rank(undone), self.rank(undone, "all")
        if bare > here and bare > self.rank(now, "all"):
            return max(asked, bare)
        return asked if asked > here else 0


def undo_question(settings: Settings, key: str) -> Settings:
    """Return settings with one key of the question at its default, or "all" that can turn a word.

    The level stays but where it is named itself: it says what is asked. Where it means nothing
    without the causes named, these stay too.
    """
    if not key:
        return settings
    q = settings.question
    kept = ("causes", "outside_causes") if q.level in NAMES_ITS_CAUSES else ()
    undone = {
        f.name: default_of(f)
        for f in fields(QuestionKeys)
        if f.metadata["role"] != FACT and f.name not in kept
        if key == f.name or (key == "all" and f.name != "level")
    }
    return replace(settings, question=replace(q, **undone))


def undo_maps(told: ToldFile, file: RecordFile, settings: Settings) -> dict[str, Undone]:
    """Return what each map of a file changed, by its key in the file's description.

    Parameters
    ----------
    told : ToldFile
        The words of the file's rows.
    file : RecordFile
        Its description; keys are such as ``endings.failed``.
    settings : Settings
        The study's question.
    """
    judge, tally = Judge(settings), _Tally()
    end = "endings" if file.shape == "lives" else "kinds"
    for row in told.rows:
        life = _life(row, file, settings)
        keys = maps_met(row, file)
        tally.n.update(dict.fromkeys(keys, row.n))
        rank = judge.turned(life, _life(row, file, settings, undo=(end, "causes"))) if keys else 0
        if rank:
            tally.turn([_to_blame(judge, life, row, file, keys)], rank, row.n)
        for ours, word in row.hidden:
            other = replace(row, **_as_column(ours, word))
            rank = judge.turned(life, _life(other, file, settings))
            if rank:
                tally.turn([f"columns.{_column_to_blame(file, ours, told)}"], rank, row.n)
    return tally.told()


def undo_settings(
    lives: Iterable[tuple[LifeRow, int]], settings: Settings, keys: tuple[str, ...]
) -> dict[str, Undone]:
    """Return what each key of the question changed, and each rule as ``rules[1]``.

    Parameters
    ----------
    lives : iterable of (LifeRow, int)
        Lives as the study reads them, and how many each stands for.
    settings : Settings
        The study's question.
    keys : tuple of str
        The keys that differ from their defaults.
    """
    judge, tally = Judge(settings), _Tally()
    for life, count in lives:
        now = judge.ruling(life)
        at = RANKS.get(now.counts_as, 0)
        worst = max(judge.rank(life, "all"), judge.rank(life, "rules"))
        by_rule = f"rules[{now.rule}]" if now.rule else ""
        blamed = []
        for key in keys:
            name = by_rule if key == "rules" else key
            before = judge.ruling(life, key).counts_as
            if not name or (key != "rules" and before == now.counts_as):
                continue
            tally.n[name] += count
            if before != now.counts_as:
                moves = tally.moves.setdefault(name, Counter())
                moves[f"{before} to {now.counts_as}"] += count
            if RANKS.get(before, 0) > at and key != "level":
                blamed.append(name)
                worst = max(worst, RANKS.get(before, 0))
        if worst > at:
            # what decided is to blame; where only all together turn it, no one of them
            names = [by_rule] if by_rule else blamed or ["together"]
            tally.turn(names, worst, count, life.cause)
    return tally.told()


def lives_told(told: ToldFile, file: RecordFile, settings: Settings) -> list[tuple[LifeRow, int]]:
    """Return the rows of a file of lives as the study reads them, alike ones once."""
    return [(_life(row, file, settings), row.n) for row in told.rows]


def _to_blame(judge: Judge, now: LifeRow, row: ToldRows, file: RecordFile, keys: list[str]) -> str:
    """Return which of the maps that a row met turned it: the first that does so by itself."""
    for key in keys:
        table = key.partition(".")[0]
        if judge.turned(now, _life(row, file, judge.settings, undo=(table,))):
            return key
    return keys[0]


def _column_to_blame(file: RecordFile, ours: str, told: ToldFile) -> str:
    """Return the entry of the map of columns that keeps a column of ours from being read."""
    header = dict(told.hidden)[ours]
    taken = [name for name, theirs in file.columns.items()
             if plain_name(theirs) == plain_name(header)]  # fmt: skip
    return taken[0] if taken and ours not in file.columns else ours


def _as_column(ours: str, word: str) -> dict[str, Any]:
    from fleetstats.tables.cells import CellError, parse_flag

    if ours in ("ending", "kind"):
        return {"ending": word}
    if ours == "cause":
        return {"cause": word}
    try:
        return {ours: parse_flag(word)}
    except CellError:
        return {}


def _life(
    row: ToldRows, file: RecordFile, settings: Settings, undo: tuple[str, ...] = ()
) -> LifeRow:
    """Return a life that ends as rows tell, by the file's maps but those that are undone."""
    causes = {} if "causes" in undo else {fold(w): c for w, c in file.causes.items()}
    cause = causes.get(fold(row.cause), row.cause)
    cause = cause if cause_known(cause) else ""
    log = file.shape != "lives"
    mapped = _event(row, file, cause, settings, undo) if log else _ending(row, file, undo)
    ending, implied = mapped
    return LifeRow(
        origin=NOWHERE, engine="", exit_h=1.0, ending=ending, cause=cause or implied,
        confirmed=row.confirmed, found_at_teardown=row.found_at_teardown, source=row.source,
        build=row.build,
    )  # fmt: skip


def _ending(row: ToldRows, file: RecordFile, undo: tuple[str, ...]) -> tuple[str, str]:
    with_map = ENDINGS_BY_WORD | {fold(w): (e, "") for w, e in file.endings.items()}
    mapped = meaning_of(row.ending, with_map) or ("running", "")
    # a word that means nothing by itself is as its map has it: nothing else is known of it
    return (ending_by_itself(row.ending) or mapped) if "endings" in undo else mapped


def _event(
    row: ToldRows, file: RecordFile, cause: str, settings: Settings, undo: tuple[str, ...]
) -> tuple[str, str]:
    """Return the ending that an event of a log by itself tells of; most tell of none."""
    with_map = EVENTS_BY_WORD | {fold(w): k for w, k in file.kinds.items()}
    kind = meaning_of(row.ending, with_map) or ""
    if "kinds" in undo:
        kind = event_by_itself(row.ending) or kind
    ending = {"failed": "failed", "finding": "found-at-check"}.get(kind, "running")
    if kind == "removed":
        ending = removal_ending(cause, row.confirmed, settings)
    return ending, ""
