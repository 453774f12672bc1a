"""Every quantity of a finished report against every other place where it stands."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from fleetstats.advice.results import Results
from fleetstats.chapters.consistency.exact import list_exact
from fleetstats.chapters.consistency.places import Row, Text, list_rows, list_texts
from fleetstats.chapters.consistency.reading import SeenNumber, in_steps_of, left_over, read_number
from fleetstats.chapters.consistency.sightings import CELLS, Form, list_forms
from fleetstats.chapters.consistency.verdicts import read_verdicts
from fleetstats.chapters.data import SAMPLED, Pairing, SampledChapters
from fleetstats.document.document import Document
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution

_LIMIT = r"[\d,.]+(?: h| %)?(?: \(extrapolated\))?"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """A quantity as it stands in one place; `reading` is None for a word."""

    key: str
    where: str
    shown: str
    reading: SeenNumber | None = None

    def agrees(self, other: Sight) -> bool:
        """Return whether both can be of one quantity."""
        if self.reading is None or other.reading is None:
            return self.shown == other.shown
        return self.reading.agrees(other.reading)


def find_sights(results: Results, document: Document) -> tuple[Sight, ...]:
    """Return every quantity that the check knows, in every place where it stands.

    The results in full come first, then the report in the order in which it is read.
    """
    texts, rows = list(list_texts(results, document)), list(list_rows(document))
    # what is asked of a part of the lives has answers of its own, and says so
    told = results.chapters.get(SAMPLED)
    if isinstance(told, SampledChapters):
        rows = [r for r in rows if r.table not in told.by_chapter]
    step = _compared_in(results)
    out = []
    for key, path, x in list_exact(results):
        exact = Sight(key=key, where=path, shown=f"{x:.10g}", reading=SeenNumber(value=x, step=0.0))
        out.append(_in_steps(exact, step if "chapters." in path else None))
    everywhere, in_tables = _parted(list_forms(results))
    known: dict[str, list[tuple[Form, str]]] = {}
    for text in texts:
        out += (_in_steps(x, step) for x in _in_text(text, everywhere, in_tables, known))
    for row in rows:
        out += _in_row(row)
    out += _bands(results, rows)
    out += [
        Sight(key=key, where=where, shown=word)
        for key, where, word in read_verdicts(results, document, texts, rows)
    ]
    return tuple(out)


def _compared_in(results: Results) -> float | None:
    """Return the step in hours to which lives of a long table were rounded to be compared."""
    pairing = results.chapters.get("pairing")
    return pairing.compared_to_h if isinstance(pairing, Pairing) else None


def _in_steps(sight: Sight, step_h: float | None) -> Sight:
    """Return a sight that may be of ages so rounded; it is said where these are compared."""
    if step_h is None or sight.key != "end of the evidence" or sight.reading is None:
        return sight
    return replace(sight, reading=in_steps_of(sight.reading, step_h))


def _parted(forms: list[Form]) -> tuple[list[Form], dict[tuple[str, str], list[Form]]]:
    """Part the forms that any text may have from those of one column of a table."""
    in_tables: dict[tuple[str, str], list[Form]] = {}
    for form in forms:
        if form.table:
            in_tables.setdefault((form.table, form.column), []).append(form)
    return [f for f in forms if not f.table], in_tables


def _in_text(
    text: Text,
    everywhere: list[Form],
    in_tables: dict[tuple[str, str], list[Form]],
    known: dict[str, list[tuple[Form, str]]],
) -> Iterator[Sight]:
    """Yield what a text shows; `known` keeps what was found, since many texts stand twice."""
    if text.text not in known:
        known[text.text] = [
            (form, m["v"])
            for form in everywhere
            if form.needs in text.text
            for m in form.form.finditer(text.text)
        ]
    own = [f for f in in_tables.get((text.table, text.column), ()) if text.row.startswith(f.row)]
    found = known[text.text] + [(f, m["v"]) for f in own for m in f.form.finditer(text.text)]
    for form, shown in found:
        reading = read_number(shown)
        if reading is None:
            continue
        reading = left_over(reading) if form.rest else reading
        if form.step:
            reading = in_steps_of(reading, form.step)
        yield Sight(key=form.key, where=text.where, shown=shown, reading=reading)


def _in_row(row: Row) -> Iterator[Sight]:
    for cell in CELLS:
        value = row.cells.get(cell.column)
        if (cell.table, cell.row) != (row.table, row.name) or not isinstance(value, int | float):
            continue
        x = 100.0 * value if cell.share else float(value)
        yield Sight(key=cell.key, where=f"{row.where}, row “{row.name}”", shown=f"{x:.10g}",
                    reading=SeenNumber(value=x, step=0.0))  # fmt: skip


def _bands(results: Results, rows: list[Row]) -> Iterator[Sight]:
    """Yield bands that stand as words in tables of many estimates.

    A table that names the method of each line says how its lines differ, and is left out.
    """
    life = "life of the target share"
    share = 100.0 * (1.0 - results.settings.targets.reliability)
    names = {
        ("estimates", f"B{share:g} life"): (life, "band"),
        ("estimates", "shape"): ("Weibull shape", "band"),
        ("clock-range", "as stated"): (life, "life"),
        ("looking-back", f"as of {results.settings.study.analysis_date}"): (life, "life"),
    }
    for row in rows:
        key, column = names.get((row.table, row.name), ("", ""))
        if not key or "method" in row.cells:
            continue
        parts = {key: str(row.cells.get("estimate") or "")}
        band = re.fullmatch(f"({_LIMIT}) to ({_LIMIT})", str(row.cells[column]))
        if band:
            parts |= {f"{key}, lower edge": band[1], f"{key}, upper edge": band[2]}
        for name, shown in parts.items():
            reading = read_number(shown)
            if reading is not None:
                yield Sight(key=name, where=f"{row.where}, row “{row.name}”", shown=shown,
                            reading=reading)  # fmt: skip
    yield from _at_claim(results, rows)


def _at_claim(results: Results, rows: list[Row]) -> Iterator[Sight]:
    """Yield the chance of failure by the claim from the table of estimates, what it leaves."""
    verdict = results.advice.verdict
    if verdict is None:
        return
    for row in rows:
        if row.table != "estimates" or "method" in row.cells:
            continue
        if row.name != f"reliability at {verdict.claimed_h:,.0f} h":
            continue
        band = re.fullmatch(f"({_LIMIT}) to ({_LIMIT})", str(row.cells["band"]))
        for side, shown in zip(("upper", "lower"), band.groups() if band else (), strict=False):
            reading = read_number(shown)
            if reading is not None:
                key = f"chance of failure by the claim, {side} bound"
                yield Sight(key=key, where=f"{row.where}, row “{row.name}”", shown=shown,
                            reading=left_over(reading))  # fmt: skip


def find_disagreements(sights: tuple[Sight, ...]) -> tuple[tuple[Sight, Sight], ...]:
    """Return, for each quantity that differs between two places, the first pair that does."""
    by_key: dict[str, list[Sight]] = {}
    for s in sights:
        by_key.setdefault(s.key, []).append(s)
    out = []
    for same in by_key.values():
        pair = next(((a, b) for i, b in enumerate(same) for a in same[:i] if not a.agrees(b)), None)
        if pair is not None:
            out.append(pair)
    return tuple(out)


def check_figures(results: Results, document: Document) -> tuple[Caution, ...]:
    """Return a caution for each quantity that the report gives in two ways.

    Parameters
    ----------
    results : Results
        A study's results; their `answer_lines` are what stands at the prompt.
    document : Document
        The report composed from them; page and paper are made from it alone.
    """
    out = []
    for a, b in find_disagreements(find_sights(results, document)):
        first, second = _shown(a, b), _shown(b, a)
        out.append(
            caution(
                "figures-disagree",
                value=second,
                limit=first,
                figure=a.key,
                first=first,
                second=second,
                place=a.where,
                other_place=b.where,
            )
        )
    return tuple(out)


def _shown(sight: Sight, beside: Sight) -> str:
    """Write a figure as it stands; one in full, to some digits past those of the other."""
    if sight.reading is None or sight.reading.step > 0:
        return sight.shown
    step = 0.0 if beside.reading is None else beside.reading.step
    digits = 6 if step <= 0 else max(0, 2 - math.floor(math.log10(step)))
    return f"{sight.reading.value:,.{digits}f}"
