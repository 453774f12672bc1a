"""What the records leave open: each thing with the choices there are, and what each would do.

Nothing here guesses. What is open, and why, is what `records.guess` left open or what the audit
stopped at; what a choice would do to the counts is told by the same guesses.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from fleetstats.desk.matching.guesses import FileGuess, FolderGuess
from fleetstats.desk.matching.named import stated
from fleetstats.desk.standing import Standing
from fleetstats.desk.words import words, words_of
from fleetstats.records.audit.lines_to_add import MAPS
from fleetstats.records.guess.guess import Guess, GuessedSheet
from fleetstats.records.guess.write import OPEN_SIGN, STOPPING
from fleetstats.study.record_settings import SHAPES
from fleetstats.tables.cells import CellError, parse_date, parse_number, text
from fleetstats.tables.grid import place_of_row
from fleetstats.vocabulary.endings import ENDINGS, FAILING_ENDINGS
from fleetstats.vocabulary.events import KINDS
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.wording import count

MEANINGS: Mapping[str, Mapping[str, str]] = {"endings": ENDINGS, "kinds": KINDS}
HOURS_OF = {"endings": ("exit_hours", "ending"), "kinds": ("hours", "kind")}
RUN = "running"
LATE = "date-future"
"""The finding that a date lies after the day to which the records are complete."""

NO_RECORDS = "no-records"
"""The choice that takes a sheet out of the study."""

TAKES = ("proposed", "separate")
"""What may be decided on returns that disagree without naming a row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One answer: what is written, how it is shown, what that means, and what it would do."""

    value: str
    shown: str
    does: str = ""
    means: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenThing:
    """One open thing, answered by one act.

    Parameters
    ----------
    number : int
        The file that it concerns, counted from 1; 0 where it concerns the study.
    table, key : str
        Where the answer goes: a map of the file and a word, ``"file"`` and a key of it, or a table
        of the study and its key.
    asks, reason, effect : str
        What is asked, why it is open, and what holds until it is answered.
    kind : str
        ``"choice"``, ``"date"`` or ``"factor"``.
    choices, rest : tuple of Choice
        The likely answers, the most likely first; and the others.
    stops : bool
        Whether nothing goes on without an answer.
    """

    number: int
    table: str
    key: str
    asks: str
    reason: str
    effect: str = ""
    kind: str = "choice"
    choices: tuple[Choice, ...] = ()
    rest: tuple[Choice, ...] = ()
    samples: tuple[str, ...] = ()
    rows: tuple[int, ...] = ()
    n_rows: int = 0
    stops: bool = True

    @property
    def because(self) -> str:
        """Return the reason as a sentence."""
        told = self.reason.rstrip(". ")
        return told if told.endswith("?") else f"{told}."

    def shown(self, value: str) -> str:
        """Return how an answer is shown; blank where it is none of those offered."""
        return next((c.shown for c in (*self.choices, *self.rest) if c.value == value), "")


def asks_of(guess: FolderGuess, now: Standing, raw: dict[str, Any]) -> tuple[OpenThing, ...]:
    """Return everything that is open, what may hide a failure first.

    Parameters
    ----------
    guess : FolderGuess
        What was guessed of the study's files.
    now : Standing
        How the study stands; its audit may be missing.
    raw : dict
        What the study file holds.
    """
    sheets = {f.named.number: f.sheet for f in guess.files if f.sheet is not None}
    failed = {n: _failed(s.counts.by_word) for n, s in sheets.items()}
    asks: list[OpenThing] = []
    for f in guess.files:
        if f.sheet is not None:
            elsewhere = sum(failed.values()) - failed[f.named.number]
            asks += _of_words(f, f.sheet, elsewhere)
            asks += _of_file(f, f.sheet)
            asks += _of_blanks(f, f.sheet, raw)
    asks += _of_findings(now, asks)
    asks += _of_study(guess, raw, now)
    order = ("endings", "kinds", "causes", "study", "file", "columns", "hours")
    rank = {name: i for i, name in enumerate(order)}
    return tuple(sorted(asks, key=lambda a: (rank.get(a.table, len(rank)), a.number)))


def _of_words(f: FileGuess, sheet: GuessedSheet, elsewhere: int) -> Iterator[OpenThing]:
    """Yield the words of endings, events and causes that nobody has given a meaning."""
    named = f.named
    for table in ("endings", "kinds", "causes"):
        told = {fold(w) for w in named.map(table)}
        left = [g for g in getattr(sheet, table) if not g.stands and fold(g.what) not in told]
        hours = most_hours(f, sheet, table) if left and table in HOURS_OF else {}
        for g in left:
            known = MEANINGS.get(table, {})
            rest = tuple(x for x in known if x not in g.alternatives)
            most_h = hours.get(fold(g.what), 0.0)
            choices = {
                x: Choice(value=x, shown=x, means=known.get(x, ""),
                          does=_does(sheet, g, x, elsewhere, most_h) if known else "")
                for x in (*g.alternatives, *rest)
            }  # fmt: skip
            yield OpenThing(
                number=named.number, table=table, key=g.what,
                asks=words("records", f"ask_{table}", word=g.what),
                reason=g.reason, effect=g.effect, samples=g.samples, rows=g.rows, n_rows=g.n_rows,
                choices=tuple(choices[x] for x in g.alternatives),
                rest=tuple(choices[x] for x in rest),
            )  # fmt: skip


def _does(sheet: GuessedSheet, g: Guess, ours: str, elsewhere: int, hours_h: float) -> str:
    """Say what a meaning of a word would do to the counts."""
    before = _failed(sheet.counts.by_word) + elsewhere
    after = _failed(sheet.if_meant(g.what, ours).by_word) + elsewhere
    if after != before:
        return words("records", "does_failed", before=before, after=after)
    which = "does_running" if ours == RUN else "does_other"
    upto = words("records", "does_upto", hours=f"{hours_h:,.0f}") if hours_h else ""
    return words("records", which, n=before, more=count(g.n_rows, "row"), ours=ours, upto=upto)


def _failed(by_word: Mapping[str, int]) -> int:
    return sum(by_word.get(w, 0) for w in FAILING_ENDINGS)


def most_hours(f: FileGuess, sheet: GuessedSheet, table: str) -> dict[str, float]:
    """Return for each word of a column the most hours that its rows tell, where they do."""
    hours_name, word_name = HOURS_OF[table]
    heads = {g.what: g.value for g in sheet.columns} | f.named.columns
    lines = () if f.grid is None else f.grid.lines
    at = place_of_row(lines, sheet.header_row)
    if at < 0:
        return {}
    names = [text(c) for c in lines[at].cells]
    try:
        hours_at, word_at = names.index(heads[hours_name]), names.index(heads[word_name])
    except (KeyError, ValueError):
        return {}
    out: dict[str, float] = {}
    for line in lines[at + 1 :]:
        if max(hours_at, word_at) >= len(line.cells):
            continue
        try:
            hours = parse_number(line.cells[hours_at], "mixed")
        except CellError:
            continue
        if hours is not None and hours < 1e9:
            word = fold(text(line.cells[word_at]))
            out[word] = max(out.get(word, 0.0), hours)
    return out


def _of_file(f: FileGuess, sheet: GuessedSheet) -> Iterator[OpenThing]:
    """Yield what is open on how a file is read: its shape, its columns, how it writes."""
    named, labels = f.named, words_of("records")["labels"]
    if not named.shape:
        g = sheet.shape
        shapes = (*g.alternatives, *(s for s in SHAPES if s not in g.alternatives))
        every = tuple(Choice(value=s, shown=s, means=SHAPES[s]) for s in shapes)
        out = Choice(value=NO_RECORDS, shown=words("records", "leave_out"))
        n = len(g.alternatives)
        yield _ask(f, "file", g, "shape", (*every[:n], out), every[n:])
    samples = _samples_of(f, sheet)
    for g in sheet.columns:
        if not g.stands and g.what not in named.columns:
            heads = tuple(
                Choice(value=h, shown=h, does=samples.get(h, "")) for h in g.alternatives if h
            )
            yield _ask(f, "columns", g, "column", heads)
    for g in sheet.settings:
        if not g.stands and g.what not in named.own:
            ways = tuple(
                Choice(value=v, shown=labels.get(f"{g.what} {v}", v), does=_reads(g, v))
                for v in g.alternatives
            )
            yield _ask(f, "file", g, g.what, ways, stops=g.what == "decimal")


def _ask(
    f: FileGuess, table: str, g: Guess, what: str, choices: tuple[Choice, ...],
    rest: tuple[Choice, ...] = (), *, stops: bool = True,
) -> OpenThing:  # fmt: skip
    return OpenThing(
        number=f.named.number, table=table, key=g.what,
        asks=words("records", f"ask_{what}", word=g.what), reason=g.reason, effect=g.effect,
        choices=choices, rest=rest, samples=g.samples, rows=g.rows, n_rows=g.n_rows, stops=stops,
    )  # fmt: skip


def _reads(g: Guess, order: str) -> str:
    """Say what the first doubtful date is under an order of dates."""
    if g.what != "date_order" or not g.samples:
        return ""
    try:
        day = parse_date(g.samples[0], order == "day-first")
    except CellError:
        return ""
    return words("records", "does_date", told=g.samples[0], day=day)


def _samples_of(f: FileGuess, sheet: GuessedSheet) -> dict[str, str]:
    """Return the first contents below each head."""
    lines = () if f.grid is None else f.grid.lines
    at = place_of_row(lines, sheet.header_row)
    if at < 0:
        return {}
    out: dict[str, str] = {}
    for i, head in enumerate(lines[at].cells):
        below = (text(x.cells[i])[:24] for x in lines[at + 1 : at + 8] if i < len(x.cells))
        out.setdefault(text(head), " · ".join(list(dict.fromkeys(c for c in below if c))[:3]))
    return out


def _of_blanks(f: FileGuess, sheet: GuessedSheet, raw: dict[str, Any]) -> Iterator[OpenThing]:
    """Yield what is to be done about rows that say nothing, if the study does not tell."""
    for g in sheet.treat:
        if not g.stands and stated(raw, f"treat.{g.what}") is None:
            labels = words_of("records")["labels"]
            may = tuple(
                Choice(value=a, shown=labels.get(f"{g.what} {a}", a),
                       does=count(g.n_rows, "row")) for a in g.alternatives
            )  # fmt: skip
            yield OpenThing(number=f.named.number, table="treat", key=g.what, reason=g.reason,
                      asks=words("records", "ask_treat"), effect=g.effect, choices=may,
                      n_rows=g.n_rows)  # fmt: skip


def _of_findings(now: Standing, told: list[OpenThing]) -> Iterator[OpenThing]:
    """Yield what the audit stopped at and a choice settles, that is not asked already."""
    if now.audit is None or now.study is None:
        return
    asked = {(a.number, a.table, fold(a.key)) for a in told}
    numbers = {(f.file, f.sheet): f.number for f in now.study.files}
    rows: dict[tuple[int, str, str], list[Finding]] = {}
    for f in now.audit.stops:
        number = numbers.get((f.file, f.sheet), numbers.get((f.file, ""), 0))
        table, key = _settles(f)
        if table and number and (number, table, fold(key)) not in asked:
            rows.setdefault((number, table, key), []).append(f)
    for (number, table, key), found in rows.items():
        yield _of_finding(number, table, key, found)


def _settles(f: Finding) -> tuple[str, str]:
    """Return where a choice about a finding goes; blanks where none settles it."""
    if f.code in MAPS and f.value.strip():
        return MAPS[f.code][0], f.value
    if f.code == "history-meter-open":
        return "file", "after_meter_change"
    if f.code == "merge-conflict":
        return "merge", f.engine
    return "", ""


def _of_finding(number: int, table: str, key: str, found: list[Finding]) -> OpenThing:
    labels = words_of("records")["labels"]
    values: Iterable[str]
    if table == "merge":
        values, what = TAKES, "merge"
    elif table == "file":
        values, what = ("new-meter", "total"), key
    else:
        values, what = MAPS[found[0].code][1], table
    rows = tuple(f.row for f in found if f.row is not None)
    return OpenThing(
        number=number, table=table, key=key, asks=words("records", f"ask_{what}", word=key),
        reason=found[0].message, rows=rows[:4], n_rows=len(found),
        choices=tuple(
            Choice(value=v, shown=labels.get(f"{what} {v}", v),
                   means=MEANINGS.get(table, {}).get(v, "")) for v in values
        ),
    )  # fmt: skip


def _of_study(guess: FolderGuess, raw: dict[str, Any], now: Standing) -> Iterator[OpenThing]:
    """Yield the settings that all files share and nobody has stated."""
    labels = words_of("records")["labels"]
    for g in guess.settings:
        table, _, key = g.what.partition(".")
        held = stated(raw, g.what)
        if g.what == "study.analysis_date":
            late = now.audit is not None and any(f.code == LATE for f in now.audit.stops)
            if held is None or (late and g.stands and str(held) < g.value):
                yield _of_day(g, held)
        elif g.what == "hours.factors":
            yield from _of_factors(guess, raw, g)
        elif g.what in STOPPING and not g.stands and held in (None, OPEN_SIGN):
            may = tuple(Choice(value=v, shown=labels[f"{key} {v}"]) for v in g.alternatives)
            till = g.effect if held else words("records", "merged_till_then")
            yield OpenThing(number=0, table=table, key=key, asks=words("records", f"ask_{key}"),
                      reason=g.reason, effect=till, choices=may, stops=bool(held))  # fmt: skip
        elif not g.stands and held is None:
            may = tuple(Choice(value=v, shown=labels.get(f"{key} {v}", v)) for v in g.alternatives)
            yield OpenThing(number=0, table=table, key=key, asks=words("records", f"ask_{key}"),
                      reason=g.reason, effect=g.effect, choices=may, stops=False)  # fmt: skip


def _of_day(g: Guess, held: Any) -> OpenThing:
    """Return the question up to which day the records are complete."""
    days = (g.value,) if g.value else g.alternatives or (dt.date.today().isoformat(),)
    return OpenThing(
        number=0, table="study", key="analysis_date", kind="date",
        asks=words("records", "ask_analysis_date"),
        reason=g.reason if held is None else words("records", "day_passed", day=held, last=g.value),
        effect=g.effect if held is None else "",
        choices=tuple(Choice(value=d, shown=d) for d in days), stops=held is None,
    )  # fmt: skip


def _of_factors(guess: FolderGuess, raw: dict[str, Any], g: Guess) -> Iterator[OpenThing]:
    """Yield the question for the factor of each meter that is not the study's."""
    standard = stated(raw, "hours.meter") or "flight"
    known = stated(raw, "hours.factors")
    have = {standard, *(known if isinstance(known, dict) else {})}
    for meter in sorted({f.named.text("meter") for f in guess.files} - {""} - have):
        yield OpenThing(number=0, table="hours", key=meter, kind="factor", reason=g.reason,
                  asks=words("records", "ask_factors", word=meter, standard=standard),
                  effect=g.effect)  # fmt: skip


def find_ask(asks: Iterable[OpenThing], number: int, table: str, key: str) -> OpenThing | None:
    """Return the open thing of a place, if it is open still."""
    same = (a for a in asks if (a.number, a.table, a.key) == (number, table, key))
    return next(same, None)
