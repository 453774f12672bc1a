"""Every life of a study, and every row of its records that became none.

Nothing is judged here: what a row was read as, what its life counts as, and why a row was set aside
are those of readers, rules and audit. So the table closes as the audit's account does.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from fleetstats.advice.results import Results
from fleetstats.core.kept import kept
from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow, Line
from fleetstats.records.rules import Ruling
from fleetstats.records.set_aside import SetAside
from fleetstats.records.told import Words, maps_met
from fleetstats.spells.event import Event
from fleetstats.studies.lineage.life_line import ASIDE, COUNTED, LifeLine
from fleetstats.study.record_settings import LIFE_SHAPES
from fleetstats.vocabulary.findings import FINDINGS
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.unknown import cause_known

STAYED = ("running", "lost", "modified")
"""Endings after which the engine, as far as the records go, still runs."""

BY_LIST = "word list"
"""Rule of a word that means by itself what it was read as."""

NOTHING_SAID = "no word: running"
"""Rule of a row that says nothing of an end."""


@value
class EveryLife(Value):
    """The table of all lives, and the account of the rows.

    Parameters
    ----------
    lines : tuple of LifeLine
        Lives counted, lives left out by a rule or a date, then rows that became none.
    n_read : int
        Rows read; those of lives and those that became none add up to it.
    """

    lines: tuple[LifeLine, ...]
    n_read: int

    @property
    def counted(self) -> tuple[LifeLine, ...]:
        """Return the lives that are counted, in the order of the spells."""
        return kept(self, "counted", lambda: tuple(x for x in self.lines if x.counted))

    @property
    def rows_in_lives(self) -> frozenset[tuple[str, int]]:
        """Return the rows that a life rests on."""
        return kept(self, "in lives", lambda: frozenset(
            r for x in self.lines if x.life for r in x.rows))  # fmt: skip

    @property
    def rows_in_none(self) -> frozenset[tuple[str, int]]:
        """Return the rows that became no life."""
        return kept(self, "in none", lambda: frozenset(
            r for x in self.lines if not x.life for r in x.rows))  # fmt: skip

    @property
    def holds(self) -> bool:
        """Return whether every row read is in a life or in none, and no row in both."""
        lives, none = self.rows_in_lives, self.rows_in_none
        return not lives & none and len(lives) + len(none) == self.n_read


def list_lives(results: Results) -> EveryLife | None:
    """Return every life of a study and every row that became none.

    None where the table was read by chunks: no row is kept there.
    """
    if results.how_read.by_chunks:
        return None
    teller = _Teller(results)
    return EveryLife(lines=tuple(teller.lines()), n_read=results.audit.n_read)


class _Teller:
    """What is known of rows, looked up by where they stand."""

    def __init__(self, results: Results) -> None:
        self.results = results
        self.written: dict[Line, Words] = {
            (r.file, r.sheet, n): w for r in results.records.readings for n, w in r.written.items()
        }
        numbers = [n for n, f in enumerate(results.study.files, start=1) if f.shape in LIFE_SHAPES]
        self.files = {
            (r.file, r.sheet): (n, results.study.files[n - 1])
            for n, r in zip(numbers, results.records.readings, strict=True)
        }
        self.since = results.built.since
        self.by_words: dict[tuple[object, ...], tuple[str, ...]] = {}
        self.by_kind: dict[tuple[object, ...], tuple[str, str]] = {}
        self.places: dict[tuple[str, str], str] = {}

    def lines(self) -> Iterator[LifeLine]:
        """Yield every line of the table."""
        built, s = self.results.built, self.results.spells
        columns = (s.unit, s.build, s.source, s.entry, s.exit_lower, s.exit_upper, s.event,
                   s.weight)  # fmt: skip
        told = zip(*(c.tolist() for c in columns), strict=True)
        rows = zip(built.rows, built.verdicts, told, strict=True)
        for i, (x, v, spell) in enumerate(rows):
            yield self._counted(i, x, v, spell)
        for i, (x, v) in enumerate(zip(built.out, built.out_verdicts, strict=True)):
            yield self._left(len(built.rows) + i + 1, x, v)
        yield from self._rows_aside()

    def _counted(self, i: int, x: LifeRow, v: Ruling, spell: tuple[Any, ...]) -> LifeLine:
        engine, build, source, entry_h, low_h, high_h, event, weight = spell
        return LifeLine(
            life=str(i + 1),
            engine=engine,
            build=build,
            source=source,
            **self._told(x, v),
            use=COUNTED,
            entry_h=float(entry_h),
            exit_low_h=float(low_h),
            exit_high_h=float(high_h),
            event=event_word(event, x.ending),
            weight=float(weight),
        )

    def _left(self, number: int, x: LifeRow, v: Ruling) -> LifeLine:
        return LifeLine(
            life=str(number),
            engine=x.engine,
            build=x.build,
            source=x.source,
            **self._told(x, v),
            use=ASIDE + v.reason,
            **_hours(x),
        )

    def _told(self, x: LifeRow, v: Ruling) -> dict[str, Any]:
        """Return the rows of a life, their words, what these were read as and by which rule."""
        lines = x.lines or ((x.origin.file, x.origin.sheet, x.origin.row or 0),)
        words = tuple([self.written.get(line, ("", "")) for line in lines])
        meaning, rule = self._meant(x, v, lines, words)
        rows = tuple([(self._place(line[:2]), line[2]) for line in lines])
        return {"rows": rows, "words": words, "meaning": meaning, "rule": rule}

    def _place(self, where: tuple[str, str]) -> str:
        if where not in self.places:
            self.places[where] = _place(*where)
        return self.places[where]

    def _meant(
        self, x: LifeRow, v: Ruling, lines: tuple[Line, ...], words: tuple[Words, ...]
    ) -> tuple[str, str]:
        """Return what a life was read as and by which rule.

        Of many lives of a few files few differ in what this rests on; each is worked out once.
        """
        since = self.since is not None and x.observed_from == self.since.day
        of = len(x.rows) + len(x.elsewhere), tuple([line[:2] for line in lines])
        key = (
            x.ending,
            x.cause,
            v.counts_as,
            v.reason,
            v.rule,
            x.carried_h > 0.0,
            since,
            of,
            words,
        )
        if key not in self.by_kind:
            cause = f", {x.cause}" if x.cause else ""
            meaning = f"{x.ending}{cause}: {v.counts_as}, {v.reason}"
            self.by_kind[key] = meaning, "; ".join(self._rules(x, v, lines))
        return self.by_kind[key]

    def _rules(self, x: LifeRow, v: Ruling, lines: tuple[Line, ...]) -> list[str]:
        out: list[str] = []
        for line in lines:
            out += self._of_words(line, x)
        if len(lines) > 1:
            out.append("replay of a log")
        if x.ending == "modified":
            out.append("life cut at the modification")
        if x.carried_h > 0.0:
            out.append("hours.carry_to_analysis_date")
        if self.since is not None and (
            x.observed_from == self.since.day or v.counts_as in ("over", "undated")
        ):
            out.append("study.since")
        out.append(f"question.rules[{v.rule}]" if v.rule else "failure rules of [question]")
        return list(dict.fromkeys(out))

    def _of_words(self, line: Line, x: LifeRow | None) -> tuple[str, ...]:
        """Return by what the words of a row were read: maps, our lists, or nothing said.

        Of many rows of a file few differ in what this rests on; each is worked out once.
        """
        words = self.written.get(line, ("", ""))
        read = x and (x.ending, x.cause, len(x.lines) == 1)
        key = (line[:2], words, read)
        if key not in self.by_words:
            self.by_words[key] = tuple(self._read_by(line, words, x))
        return self.by_words[key]

    def _read_by(self, line: Line, words: Words, x: LifeRow | None) -> list[str]:
        ending, cause = words
        number, file = self.files.get(line[:2], (0, None))
        met = maps_met((ending, cause), file) if file is not None else []
        out = [f"records[{number}].{m}" for m in met]
        if not any(not m.startswith("causes.") for m in met):
            out.insert(0, BY_LIST if ending else NOTHING_SAID)
        alone = x is not None and len(x.lines) == 1 and x.ending != "modified"
        if x is not None and alone and not any(m.startswith("causes.") for m in met):
            if x.cause and not cause_known(cause):
                out.append("cause told by the ending")
            elif cause_known(cause) and fold(x.cause) != fold(cause):
                out.append("spelling of causes")
        return out

    def _rows_aside(self) -> Iterator[LifeLine]:
        """Yield the rows that became no life, those that were read as one life together."""
        aside = self.results.audit.set_aside
        sought = {(s.file, s.sheet, s.row) for s in aside}
        whose: dict[Line, LifeRow] = {}
        for x in self.results.records.rows if sought else ():
            for line in x.lines:
                if line in sought:
                    whose.setdefault(line, x)
        for s in aside:
            line = (s.file, s.sheet, s.row)
            yield self._aside(s, line, whose.get(line))

    def _aside(self, s: SetAside, line: Line, x: LifeRow | None) -> LifeLine:
        why = s.message or s.reason
        one = x is not None and len(x.lines) == 1
        return LifeLine(
            life="",
            engine=s.engine or (x.engine if x is not None else ""),
            build=x.build if x is not None else "",
            source=s.source or (x.source if x is not None else ""),
            rows=((_place(s.file, s.sheet), s.row),),
            words=(self.written.get(line, ("", "")),),
            meaning="no life" if x is None else f"{x.ending}{', ' + x.cause if x.cause else ''}",
            rule="; ".join([*self._of_words(line, None), self._by(s)]),
            use=ASIDE + why + (f" Told by {s.into}." if s.into else ""),
            **(_hours(x) if x is not None and one else {}),
        )

    def _by(self, s: SetAside) -> str:
        """Return what set a row aside: the study's own choice, or what is usual."""
        if s.reason in self.results.settings.treat.actions:
            return f"treat.{s.reason}"
        return f"finding {s.reason}" if s.reason in FINDINGS else s.reason


def event_word(event: int, ending: str) -> str:
    """Return the word of the table for what ended a spell."""
    if event == Event.FAILED:
        return "failed"
    if event == Event.COMPETING:
        return "competing"
    return "running" if event == Event.CENSORED and ending in STAYED else "removed"


def _hours(x: LifeRow) -> dict[str, Any]:
    """Return the hours of a life that is in no spell, as they were read."""
    return {"entry_h": x.entry_h, "exit_low_h": x.exit_h, "exit_high_h": x.exit_h,
            "weight": float(x.count)}  # fmt: skip


def _place(file: str, sheet: str) -> str:
    return f"{file} [{sheet}]" if sheet else file
