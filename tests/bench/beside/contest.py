"""One row of the table of speed: our call and theirs on the same data, timed in turn.

Only processor time counts (of this process, or of R's), the least of several runs in turn, since
the machine may be busy. Whoever cannot do the whole size within `BOUND_S` is asked for as much as
he can, and so are we then.
"""

from __future__ import annotations

import contextlib
import gc
import io
import signal
import time
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

BOUND_S = 30.0
"""Seconds of the processor that one run may take."""

ROUNDS, BUDGET_S = 5, 6.0
"""Most runs of each side, and the seconds of the processor after which it is enough."""

TICKS_S = 0.1
"""A run shorter than this is repeated for about twice as long."""

STEP = 8
"""Factor between the sizes that are tried on the way to the whole one."""

MOST_SIZES = 4
"""Sizes tried, the whole one among them."""

Answer = dict[str, np.ndarray]


@dataclass(frozen=True, slots=True)
class Ours:
    """Our call; `read` takes what is compared from what `run` returned, outside the time."""

    call: str
    run: Callable[[Any], Any]
    read: Callable[[Any, Any], Answer]


@dataclass(frozen=True, slots=True)
class Theirs:
    """A call of another library.

    `within` says how far each part of the answer may lie from ours, relative to its greatest value;
    `times` how often the call does its work in place of once (10,000 refits are timed by a few).
    `seconds` is set where the other side keeps its own time, as R does: `run` then returns it too.
    `note` is said below the table.
    """

    who: str
    call: str
    run: Callable[[Any], Any]
    read: Callable[[Any, Any], Answer]
    within: dict[str, float]
    own_clock: bool = False
    times: float = 1.0
    note: str = ""


@dataclass(frozen=True, slots=True)
class Contest:
    """One task: data of a size, our call and the others'. `of` says what the size counts."""

    key: str
    title: str
    size: int
    of: str
    data: Callable[[int], Any]
    ours: Ours
    theirs: tuple[Theirs, ...]
    smallest: int = 250
    none: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What was measured: seconds of the processor on both sides, and how far the answers lie."""

    key: str
    title: str
    of: str
    size: int
    whole: int
    who: str
    call: str
    our_call: str
    our_s: float
    their_s: float
    apart: dict[str, float] = field(default_factory=dict)
    within: dict[str, float] = field(default_factory=dict)
    note: str = ""
    why_not: str = ""

    @property
    def ratio(self) -> float:
        """How many times our seconds theirs are."""
        return self.their_s / self.our_s


class TooSlow(Exception):
    """A run has used up `BOUND_S`."""


@contextlib.contextmanager
def bounded() -> Iterator[None]:
    """Stop what runs inside when it has used `BOUND_S` seconds of the processor."""

    def stop(*_: object) -> None:
        raise TooSlow

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, BOUND_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)


def again(seconds: float) -> int:
    """Return how often a run of so many seconds is repeated, since the clock ticks coarsely."""
    return 1 if seconds >= TICKS_S else min(int(2.0 * TICKS_S / max(seconds, 1e-3)), 200)


def timed(side: Ours | Theirs, data: Any) -> tuple[Any, float]:
    """Run one side; return what it returned and the seconds of the processor that a run took."""
    gc.collect()
    times = side.times if isinstance(side, Theirs) else 1.0
    with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()):
        warnings.simplefilter("ignore")
        if isinstance(side, Theirs) and side.own_clock:
            out, seconds = side.run(data)
            return out, seconds * times
        with bounded(), np.errstate(all="ignore"):
            start = time.process_time()
            out = side.run(data)
            seconds = time.process_time() - start
            if (more := again(seconds)) > 1:
                start = time.process_time()
                for _ in range(more):
                    side.run(data)
                seconds = (time.process_time() - start) / more
    return out, seconds * times


def apart(ours: Answer, theirs: Answer) -> dict[str, float]:
    """Return how far each part of their answer lies from ours, over its greatest value."""
    out = {}
    for key, other in theirs.items():
        mine = np.asarray(ours[key], dtype=float)
        other = np.asarray(other, dtype=float)
        both = np.isfinite(mine) & np.isfinite(other)
        assert both.sum() >= 0.5 * both.size, f"{key}: hardly any value to compare"
        top = float(np.abs(mine[both]).max()) or 1.0
        out[key] = float(np.abs(mine[both] - other[both]).max()) / top
    return out


@dataclass(frozen=True, slots=True)
class Reached:
    """The greatest size that somebody does within the bound, his run there, and why no greater."""

    size: int
    out: Any
    seconds: float
    why_not: str = ""


def reach(contest: Contest, other: Theirs) -> Reached:
    """Return how far `other` gets, tried from small sizes on."""
    sizes = [contest.size]
    while sizes[-1] // STEP >= contest.smallest and len(sizes) < MOST_SIZES:
        sizes.append(sizes[-1] // STEP)
    best, grows = Reached(0, None, 0.0), 1.0
    for size in sorted(sizes):
        guess = best.seconds / other.times * STEP ** max(grows, 1.0)
        if guess > BOUND_S:
            return replace(best, why_not=f"{guess:,.0f} s expected at {size:,}")
        try:
            out, seconds = timed(other, contest.data(size))
        except (TooSlow, MemoryError) as error:
            why = "too little memory" if isinstance(error, MemoryError) else f"over {BOUND_S:g} s"
            return replace(best, why_not=f"{why} at {size:,}")
        if best.seconds / other.times > 0.05:
            grows = float(np.log(seconds / best.seconds) / np.log(STEP))
        best = Reached(size, out, seconds)
    return best


def contend(contest: Contest, say: Callable[[str], None]) -> list[Row]:
    """Time our call in turn with each of the others; raise where the answers do not agree."""
    rows = []
    timed(contest.ours, contest.data(contest.smallest))
    for other in contest.theirs:
        reached = reach(contest, other)
        if not reached.size:
            raise RuntimeError(f"{contest.key}: {other.who} cannot do even {contest.smallest:,}")
        data = contest.data(reached.size)
        theirs, their_s = reached.out, reached.seconds
        our_s, spent = np.inf, their_s / other.times
        for k in range(ROUNDS):
            ours, a = timed(contest.ours, data)
            our_s, spent = min(our_s, a), spent + a
            if spent < BUDGET_S:
                theirs, b = timed(other, data)
                their_s, spent = min(their_s, b), spent + b / other.times
            elif k:
                break
        far = apart(contest.ours.read(ours, data), other.read(theirs, data))
        for key, most in other.within.items():
            assert far[key] <= most, f"{contest.key}, {other.who}: {key} apart by {far[key]:.2g}"
        rows.append(
            Row(
                key=contest.key, title=contest.title, of=contest.of, size=reached.size,
                whole=contest.size, who=other.who, call=other.call, our_call=contest.ours.call,
                our_s=our_s, their_s=their_s, apart=far, within=other.within, note=other.note,
                why_not=reached.why_not,
            )
        )  # fmt: skip
        say(
            f"{contest.key}, {other.who} at {reached.size:,}: ours {our_s:.3g} s, theirs "
            f"{their_s:.3g} s, {rows[-1].ratio:.3g} times, apart {far} {reached.why_not}"
        )
    return rows
