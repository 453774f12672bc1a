"""The word of a verdict wherever it stands: sentences, tables, the head of the report."""

from __future__ import annotations

import re
from collections.abc import Iterator

from fleetstats.advice.results import Results
from fleetstats.chapters.claim import Claim
from fleetstats.chapters.consistency.places import FIRST, Row, Text
from fleetstats.document.document import Document
from fleetstats.document.words import VERDICT_TEXT

Said = tuple[str, str, str]
"""Key of what is judged, where a verdict on it stands, the verdict."""

CLAIM = "verdict on the claimed interval"

_OPENINGS = (
    (r"It is not yet shown(?:, at one-sided [\d.]+ % confidence)?, that at most", "not-yet-shown"),
    (r"It is not yet shown that at most", "not-yet-shown"),
    (r"The records (?:do not yet show|do not reach) [\d,]+ h", "not-yet-shown"),
    (r"The records support(?:, at one-sided| [\d,]+ h:)", "supported"),
    (r"The records contradict(?:, at one-sided| [\d,]+ h:)", "contradicted"),
    (r"Hours do not tell: ", "hours-do-not-tell"),
)
_LAST_CLAIM = (
    (r"This does not show the accepted", "open"),
    (r"the accepted [\d.]+ % is contradicted", "contradicted"),
    (r"would leave the accepted [\d.]+ % not shown", "supported"),
)
ROWS = {
    "clock-range": "as stated",
    "influence": "nothing",
    "clock-doubt": "clocks in doubt as stated",
}
"""Tables with one row that stands for the study as it is, and the name of that row."""


def read_verdicts(
    results: Results, document: Document, texts: list[Text], rows: list[Row]
) -> Iterator[Said]:
    """Yield each verdict on the claim, and on each of two groups alone, with where it stands."""
    verdict = results.advice.verdict
    if verdict is None:
        return
    yield CLAIM, "results.json, advice.verdict.word", verdict.word
    yield CLAIM, f"{FIRST}, verdict", document.verdict
    for t in texts:
        for opening, word in _OPENINGS:
            if re.match(opening, t.text):
                yield CLAIM, t.where, word
        if t.table == "claim-box" and t.row == "Verdict" and t.column == "value":
            for word, said in VERDICT_TEXT.items():
                if t.text.startswith(f"{said}:"):
                    yield CLAIM, t.where, word
    for r in rows:
        if r.name == ROWS.get(r.table) and isinstance(r.cells.get("verdict"), str):
            yield CLAIM, r.where, str(r.cells["verdict"]).replace(" ", "-")
    yield from _in_classes(results, verdict.word, texts)
    yield from _alone(rows)


def class_of(word: str) -> str:
    """Return supported, contradicted or open: what every way to judge a claim must agree on."""
    word = word.partition(",")[0].replace(" ", "-")  # what is open stands after the word
    if word in ("supported", "shown"):
        return "supported"
    return word if word == "contradicted" else "open"


def _in_classes(results: Results, word: str, texts: list[Text]) -> Iterator[Said]:
    """Yield the verdict and the chapter on the claim, which has words of its own for it."""
    key = f"{CLAIM}, as shown, contradicted or open"
    yield key, "results.json, advice.verdict.word", class_of(word)
    claim = results.chapters.get("claim")
    if isinstance(claim, Claim):
        yield key, "results.json, chapters.claim.state", class_of(claim.state)
    for t in texts:
        for ending, said in _LAST_CLAIM:
            if "were seen over" in t.text and re.search(ending, t.text):
                yield key, t.where, said


def _alone(rows: list[Row]) -> Iterator[Said]:
    """Yield the verdict on each of two groups alone: judged as a group, and without the other."""
    groups: dict[str, list[Row]] = {}
    for r in rows:
        if r.table == "claim-by-group":
            groups.setdefault(r.name, []).append(r)
    for by, two in groups.items():
        if len(two) != 2:
            continue
        left = {str(r.cells["name"]): r for r in rows if r.table == "influence" and r.name == by}
        for mine, other in (two, two[::-1]):
            without = left.get(str(other.cells["name"]))
            if without is None:
                continue
            key = f"verdict on {by} {mine.cells['name']} alone"
            yield key, mine.where, class_of(str(mine.cells["state"]))
            yield key, without.where, class_of(str(without.cells["verdict"]))
