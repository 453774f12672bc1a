"""Two reports of one engine's life made one, or the points on which they disagree.

What both can mean together is merged: the earliest hours of entry, the latest hours, the end that
either tells, the fields that only one fills. Where they cannot both be right, each point is listed
with the cautious reading as the proposal: the failure stands, and fewer hours are counted.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.merging.alike import LEAST_REACH_H, alike_h
from fleetstats.records.merging.hours_apart import cannot_both_be
from fleetstats.records.merging.merge_score import hours_alike
from fleetstats.records.rules import Ruling
from fleetstats.records.told_values import moved
from fleetstats.study.pool_settings import MergeKeys
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.unknown import cause_known

Rule = Callable[[LifeRow], Ruling]
"""Says what the ending of a life counts as."""

OPEN = ("running", "lost")
"""Endings that tell of no end."""

JUDGED = ("cause", "confirmed", "found_at_teardown", "build")
"""What may be filled in and changes what the ending of a life counts as."""

FILLED = (
    "build", "cause", "note", "confirmed", "found_at_teardown", "in_service", "ended", "modified_h",
    "build_after",
)  # fmt: skip
"""What one report may know and the other leave blank."""

SEVERITY = (
    "failed",
    "found-at-check",
    "removed-finding",
    "removed",
    "planned-overhaul",
    "modified",
)
"""Endings of one event, the one that speaks most against the engine first."""


@value
class Disagreement(Value):
    """One point on which two reports disagree, and the cautious reading of it."""

    field: str
    first: str
    second: str
    proposed: str


@value
class Joined(Value):
    """What became of two reports.

    Parameters
    ----------
    rows : tuple of LifeRow
        The lives to go on with: one, or two where the proposal keeps both.
    gone : LifeRow or None
        The report whose lines are in no life any more.
    steps : tuple of str
        What was taken from which.
    points : tuple of Disagreement
        Empty where the two fit together.
    same_event : bool
        Whether both tell of one and the same end.
    failure_kept : bool
        Whether a failure in question stands that the two merged would not have been.
    """

    rows: tuple[LifeRow, ...]
    gone: LifeRow | None
    steps: tuple[str, ...]
    points: tuple[Disagreement, ...] = ()
    same_event: bool = False
    failure_kept: bool = False


def span(row: LifeRow) -> tuple[float, float]:
    """Return the hours since new between which a life was seen."""
    return row.life_start_h + row.entry_h, row.life_start_h + row.exit_h


def join_lives(a: LifeRow, b: LifeRow, merge: MergeKeys, rule: Rule) -> Joined:
    """Make one life of two reports of it, or list what they disagree on.

    No failure in question is lost by it: where one report tells of one and what both tell together
    would not be, the failure stands, and the two disagree on what the end counts as.

    Parameters
    ----------
    a, b : LifeRow
        Reports of the same engine, on the same clock and basis.
    merge : MergeKeys
        How alike two reports of one event are.
    rule : callable
        As `rules.judge_ending`, for the study's question.
    """
    joined = _join_clocks(a, b, merge, rule)
    if not joined.failure_kept:
        return joined
    first, second = rule(a), rule(b)
    point = Disagreement(
        field="what the end counts as",
        first=f"{first.counts_as} ({first.reason})",
        second=f"{second.counts_as} ({second.reason})",
        proposed="failure",
    )
    return replace(joined, points=(*joined.points, point))


def _join_clocks(a: LifeRow, b: LifeRow, merge: MergeKeys, rule: Rule) -> Joined:
    """Join two reports; one that does not know of an overhaul is told again since then."""
    if alike_h(a.life_start_h, b.life_start_h, merge):
        return _join(a, b, merge, rule)
    knows, other = (a, b) if a.life_start_h > b.life_start_h else (b, a)
    point = Disagreement(
        field="overhaul",
        first=f"life from {a.life_start_h:g} h since new",
        second=f"life from {b.life_start_h:g} h since new",
        proposed=f"the overhaul at {knows.life_start_h:g} h",
    )
    if other.ending in OPEN:
        return Joined(rows=(knows,), gone=other, steps=(), points=(point,))
    rest = _join(knows, _since(other, knows.life_start_h), merge, rule)
    return replace(rest, points=(point, *rest.points))


def _since(row: LifeRow, start_h: float) -> LifeRow:
    """Return the part of a life after an overhaul at `start_h` hours since new, counted from it."""
    shift = start_h - row.life_start_h
    good, at = row.last_good_h, row.modified_h
    return replace(
        row,
        life_start_h=start_h,
        life=-1,
        entry_h=max(row.entry_h - shift, 0.0),
        exit_h=row.exit_h - shift,
        exit_low_h=None if row.exit_low_h is None else max(row.exit_low_h - shift, 0.0),
        exit_high_h=None if row.exit_high_h is None else row.exit_high_h - shift,
        last_good_h=good - shift if good is not None and good >= shift else None,
        modified_h=None if at is None else at - shift,
        categories=moved(row.categories, less=shift),
        in_service=None,
        observed_from=row.observed_from if row.entry_h >= shift else None,
    )


def _join(a: LifeRow, b: LifeRow, merge: MergeKeys, rule: Rule) -> Joined:
    a_open, b_open = a.ending in OPEN, b.ending in OPEN
    if a_open and b_open:
        return _both_open(a, b, rule)
    if a_open != b_open:
        ended, going = (b, a) if a_open else (a, b)
        return _one_ended(ended, going, a, merge, rule)
    return _both_ended(a, b, merge, rule)


def _both_open(a: LifeRow, b: LifeRow, rule: Rule) -> Joined:
    more, less = (a, b) if span(a)[1] >= span(b)[1] else (b, a)
    points: list[Disagreement] = []
    new, old = more.last_date, less.last_date
    backwards = new and old and new < old and span(more)[1] - span(less)[1] > LEAST_REACH_H
    if backwards or cannot_both_be(more, less):
        points.append(
            Disagreement(
                field="hours",
                first=f"{span(a)[1]:g} h on {a.last_date}",
                second=f"{span(b)[1]:g} h on {b.last_date}",
                proposed=f"{span(less)[1]:g} h, the fewer",
            )
        )
        more, less = less, more
    return _one(more, less, (*points, *_build(a, b, more)), rule)


def _one_ended(ended: LifeRow, going: LifeRow, a: LifeRow, merge: MergeKeys, rule: Rule) -> Joined:
    end, seen = span(ended)[1], span(going)[1]
    if seen <= end or hours_alike(ended, going, merge):
        points = (*_apart(ended, going, a), *_build(ended, going, ended))
        return _one(ended, going, points, rule)
    b = going if a is ended else ended
    point = Disagreement(
        field="ending",
        first=_told(a),
        second=_told(b),
        proposed=f"{ended.ending} at {end:g} h; the hours after it are a stretch of their own",
    )
    later = replace(going, entry_h=end - going.life_start_h, observed_from=ended.ended)
    return Joined(rows=(ended, later), gone=None, steps=(), points=(point,))


def _apart(ended: LifeRow, going: LifeRow, a: LifeRow) -> tuple[Disagreement, ...]:
    """Return the point that a reading lies too many hours below an end to be of one engine."""
    if not cannot_both_be(ended, going):
        return ()
    b = going if a is ended else ended
    end = f"{ended.ending} at {span(ended)[1]:g} h, as the report of the end has it"
    return (Disagreement(field="hours", first=_told(a), second=_told(b), proposed=end),)


def _both_ended(a: LifeRow, b: LifeRow, merge: MergeKeys, rule: Rule) -> Joined:
    if not hours_alike(a, b, merge):
        first, second = (a, b) if span(a)[1] <= span(b)[1] else (b, a)
        end = span(first)[1]
        point = Disagreement(
            field="ending",
            first=_told(a),
            second=_told(b),
            proposed=f"both ends; the life of the second begins at {end:g} h",
        )
        later = replace(second, entry_h=end - second.life_start_h, observed_from=first.ended)
        return Joined(rows=(first, later), gone=None, steps=(), points=(point,))
    main, other = (a, b) if _knows(a) >= _knows(b) else (b, a)
    points: list[Disagreement] = []
    if a.ended and b.ended and abs((a.ended - b.ended).days) > merge.days_alike:
        points.append(
            Disagreement(
                field="date",
                first=str(a.ended),
                second=str(b.ended),
                proposed=f"one event, on {main.ended}",
            )
        )
    if a.ending != b.ending:
        worst = min(a.ending, b.ending, key=SEVERITY.index)
        points.append(Disagreement(field="ending", first=a.ending, second=b.ending, proposed=worst))
        main, other = (a, b) if a.ending == worst else (b, a)
    if a.confirmed is not None and b.confirmed is not None and a.confirmed != b.confirmed:
        points.append(
            Disagreement(
                field="confirmed",
                first=_yes(a.confirmed),
                second=_yes(b.confirmed),
                proposed="yes",
            )
        )
        main = replace(main, confirmed=True)
    if cause_known(a.cause) and cause_known(b.cause) and fold(a.cause) != fold(b.cause):
        points.append(
            Disagreement(field="cause", first=a.cause, second=b.cause, proposed=main.cause)
        )
    points += _build(a, b, main)
    joined = _one(main, other, tuple(points), rule)
    return replace(joined, same_event=True)


def _one(main: LifeRow, other: LifeRow, points: tuple[Disagreement, ...], rule: Rule) -> Joined:
    """Merge `other` into `main`, whose end stands unless that would lose a failure of either."""
    row, steps = _fill(main, other, FILLED)
    failing = [x for x in (main, other) if rule(x).counts_as == "failure"]
    if not failing or rule(row).counts_as == "failure":
        return Joined(rows=(row,), gone=other, steps=steps, points=points)
    stands = failing[0]
    rest = other if stands is main else main
    row, steps = _fill(stands, rest, tuple(n for n in FILLED if n not in JUDGED))
    return Joined(rows=(row,), gone=rest, steps=steps, points=points, failure_kept=True)


def _fill(
    main: LifeRow, other: LifeRow, filled: tuple[str, ...]
) -> tuple[LifeRow, tuple[str, ...]]:
    """Return `main` with what `other` adds to it, and what came from where."""
    steps: list[str] = []
    row = main
    entry = min(span(main)[0], span(other)[0])
    if entry < span(main)[0]:
        steps.append(f"entry {entry:g} h from {other.origin}")
        # an overhaul told a little earlier begins no hours before the life that it began
        since = max(entry - main.life_start_h, 0.0)
        row = replace(row, entry_h=since, observed_from=other.observed_from)
    differ = abs(span(main)[1] - span(other)[1])
    if differ > 0:
        steps.append(f"exit {span(main)[1]:g} h from {main.origin}, not {span(other)[1]:g} h")
    for name in filled:
        mine, theirs = getattr(row, name), getattr(other, name)
        blank = mine is None or mine == ""
        if blank and theirs not in (None, "") and (name != "cause" or other.ending not in OPEN):
            if name == "modified_h":
                theirs += other.life_start_h - main.life_start_h
            row = replace(row, **{name: theirs})
            steps.append(f"{name.replace('_', ' ')} from {other.origin}")
    doubts = [d for d in (main.clock_doubt, other.clock_doubt) if d is not None]
    if doubts and max(doubts) != main.clock_doubt:  # neither report makes the other's clock better
        row = replace(row, clock_doubt=max(doubts))
        steps.append(f"clock doubt from {other.origin}")
    dates = [d for d in (row.last_reading, other.last_reading) if d is not None]
    if dates and row.ending in OPEN:
        row = replace(row, last_reading=max(dates))
    goods = [
        r.life_start_h + r.last_good_h
        for r in (main, other)
        if r.last_good_h is not None and r.life_start_h + r.last_good_h <= span(main)[1]
    ]
    if goods and row.ending != "running":
        good = max(max(goods) - main.life_start_h, row.entry_h)
        row = replace(row, last_good_h=min(good, row.exit_h))  # not past the end by rounding
    row = replace(row, extra={**other.extra, **row.extra}, parts={**other.parts, **row.parts})
    theirs = moved(other.categories, less=main.life_start_h - other.life_start_h)
    steps += _categories_apart(main, other)
    return replace(row, categories={**theirs, **row.categories}), tuple(steps)


def _categories_apart(main: LifeRow, other: LifeRow) -> list[str]:
    """Say which words of the other report are not those of the main one, which stand."""
    out = []
    for name, values in main.categories.items():
        mine = [w for _, w in values]
        theirs = [w for _, w in other.categories.get(name, ())]
        if theirs and list(map(fold, mine)) != list(map(fold, theirs)):
            said = f"{name} '{', '.join(mine)}' from {main.origin}, not '{', '.join(theirs)}'"
            out.append(said)
    return out


def _build(a: LifeRow, b: LifeRow, main: LifeRow) -> tuple[Disagreement, ...]:
    if a.build and b.build and fold(a.build) != fold(b.build):
        return (Disagreement(field="build", first=a.build, second=b.build, proposed=main.build),)
    return ()


def _knows(row: LifeRow) -> tuple[bool, bool, bool, bool]:
    """Rank a report of an event by how much it knows of it."""
    return (
        row.confirmed is not None,
        cause_known(row.cause),
        row.ended is not None,
        row.exit_h % 50.0 != 0.0,
    )


def _told(row: LifeRow) -> str:
    day = f" on {row.last_date}" if row.last_date else ""
    return f"{row.ending} at {span(row)[1]:g} h{day}"


def _yes(flag: bool) -> str:
    return "yes" if flag else "no"
