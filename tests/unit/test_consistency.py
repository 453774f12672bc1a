"""A quantity that stands in many places of a report is one number; a planted difference is found.

No outside source: a report that gives one quantity in two ways is wrong in one of them.
"""

from __future__ import annotations

import dataclasses
import functools
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from fleetstats.advice.results import Results
from fleetstats.chapters.compose import compose_checked, compose_report
from fleetstats.chapters.consistency.compare import Sight, check_figures, find_sights
from fleetstats.chapters.consistency.reading import SeenNumber, read_number
from fleetstats.core.value import Value
from fleetstats.document.document import Document, Statement, Table
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study

DATA = Path(__file__).parents[2] / "datasets"
DEMOS = ("on-condition", "on-condition-2025", "quiet-fleet", "tow-clubs", "workshop")
QUICK = "quiet-fleet"

EVERYWHERE = {
    "engines used": 8,
    "failures": 8,
    "engine hours": 8,
    "rows read": 4,
    "rows used": 4,
    "rows set aside": 4,
    "end of the evidence": 15,
    "oldest age seen": 8,
    "hours from which overhaul is planned": 8,
    "hours past which records speak for no engine": 5,
    "claimed hours": 8,
    "accepted chance of failure": 6,
    "chance of failure by the claim, upper bound": 5,
    "expected failures": 3,
    "verdict on the claimed interval": 7,
}
"""Places, at least, in which each quantity stands in every demo report: fewer means that a form of
words has changed and the check no longer sees it."""


@functools.cache
def report_of(name: str) -> tuple[Results, Document]:
    results = analyse(read_study(DATA / name))
    return results, compose_report(results)


def change_sections(document: Document, change: Any) -> Document:
    """Return a document with every block of its sections and summaries changed."""

    def changed(sections: Any) -> Any:
        return tuple(
            dataclasses.replace(s, blocks=tuple(change(s, b) for b in s.blocks)) for s in sections
        )

    return dataclasses.replace(
        document,
        sections=changed(document.sections),
        summaries=changed(document.summaries),
    )


def in_sentence(section: str, old: str, new: str) -> Any:
    """Return a change of one sentence of a section; it must be there once at least."""

    def change(s: Any, block: Any) -> Any:
        if s.key == section and isinstance(block, Statement) and re.search(old, block.text):
            return dataclasses.replace(block, text=re.sub(old, new, block.text, count=1))
        return block

    return change


def in_cell(table: str, row: str, column: str, old: str, new: Any) -> Any:
    """Return a change of one cell: of text by pattern, of a number by a new one."""

    def cell(key: str, first: Any, value: Any) -> Any:
        if key != column or first != row:
            return value
        return re.sub(old, new, value, count=1) if isinstance(value, str) else new

    def change(s: Any, block: Any) -> Any:
        if not isinstance(block, Table) or block.key != table:
            return block
        keys = [c.key for c in block.columns]
        rows = tuple(
            tuple(cell(k, r[0], v) for k, v in zip(keys, r, strict=True)) for r in block.rows
        )
        return dataclasses.replace(block, rows=rows)

    return change


@pytest.mark.parametrize("name", DEMOS)
def test_no_demo_report_contradicts_itself(name: str) -> None:
    found = check_figures(*report_of(name))
    assert not found, "\n".join(c.text for c in found)


def test_a_report_of_three_lives_does_not_contradict_itself(tmp_path: Path) -> None:
    """At no age are enough at risk: the evidence ends nowhere, in the figures of causes too."""
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "Three"\nanalysis_date = 2025-12-31\n'
        '[evidence]\nresamples = 200\n[[records]]\nfile = "l.csv"\n',
        encoding="utf-8",
    )
    (tmp_path / "l.csv").write_text(
        "engine,hours,ending,cause\nA,500,running,\nB,700,failed,crankshaft\nC,900,running,\n",
        encoding="utf-8",
    )
    results = analyse(read_study(tmp_path))
    assert results.advice.horizon.supported_h == 0.0
    assert check_figures(results, compose_report(results)) == ()


@pytest.mark.parametrize("name", DEMOS)
def test_the_check_sees_each_quantity_in_many_places(name: str) -> None:
    seen: dict[str, int] = {}
    for s in find_sights(*report_of(name)):
        seen[s.key] = seen.get(s.key, 0) + 1
    short = {k: (seen.get(k, 0), n) for k, n in EVERYWHERE.items() if seen.get(k, 0) < n}
    assert not short, f"(seen, at least): {short}"


PLANTED = {
    "bound in a sentence": (
        in_sentence("decision", r"(upper bound is )[\d.]+ %", r"\g<1>2.9 %"),
        "chance of failure by the claim, upper bound",
        "2.9 %",
    ),
    "bound in a quoted sentence": (
        in_sentence("claim", r"(at most )[\d.]+( % of engines)", r"\g<1>2.7\2"),
        "chance of failure by the claim, upper bound",
        "2.7 %",
    ),
    "count of engines in a cell": (
        in_cell("claim-box", "Population", "value", r"^\d+", "250"),
        "engines used",
        "250",
    ),
    "count of failures in a cell": (
        in_cell("influence", "nothing", "failures", "", 1.0),
        "failures",
        "1",
    ),
    "end of the evidence": (
        in_sentence("answer", r"(evidence ends at )[\d,]+", r"\g<1>1,545"),
        "end of the evidence",
        "1,545",
    ),
    "edge of the band": (
        in_cell("answers", "Overhaul band: plan from, expect at, not beyond", "low",
                r"^[\d,]+", "1,400"),
        "hours from which overhaul is planned",
        "1,400",
    ),
    "expected failures": (
        in_cell("forecast-counts", "failures", "expected", "", 0.31),
        "expected failures",
        "0.31",
    ),
    "word of the verdict in a cell": (
        in_cell("claim-box", "Verdict", "value", r"^[^:]+", "Not yet shown"),
        "verdict on the claimed interval",
        "not-yet-shown",
    ),
    "word of the verdict in a sentence": (
        in_sentence("decision", r"The records support,", "The records contradict,"),
        "verdict on the claimed interval",
        "contradicted",
    ),
}  # fmt: skip
"""Change of the report of the quiet fleet; the quantity that is then found; what is then shown."""


@pytest.mark.parametrize("plant", PLANTED)
def test_a_planted_disagreement_is_found(plant: str) -> None:
    results, document = report_of(QUICK)
    change, key, shown = PLANTED[plant]
    before = {c.where for c in check_figures(results, document)}
    planted = change_sections(document, change)
    assert planted != document
    found = [c for c in check_figures(results, planted) if c.where not in before]
    assert [c.where for c in found if c.where == key] == [key]
    caution = next(c for c in found if c.where == key)
    assert caution.code == "figures-disagree"
    assert shown in f"{caution.value} {caution.limit}"
    assert "stands in" in caution.text
    assert caution.value in caution.text
    assert caution.limit in caution.text


def test_a_verdict_at_the_head_that_differs_is_found() -> None:
    results, document = report_of(QUICK)
    found = check_figures(results, dataclasses.replace(document, verdict="contradicted"))
    assert "verdict on the claimed interval" in {c.where for c in found}


def test_an_answer_at_the_prompt_that_differs_is_found() -> None:
    results, document = report_of(QUICK)
    horizon = results.advice.horizon
    told = dataclasses.replace(horizon, sentence=horizon.sentence.replace("1,544", "1,644"))
    other = dataclasses.replace(results, advice=dataclasses.replace(results.advice, horizon=told))
    found = {c.where: c for c in check_figures(other, document)}
    assert "at the prompt" in found["end of the evidence"].text


def test_a_disagreement_is_the_first_caution_on_page_and_at_the_prompt() -> None:
    results, _ = report_of(QUICK)
    band = dataclasses.replace(
        results.advice.overhaul_band,
        sentence=results.advice.overhaul_band.sentence.replace("up to 1,450 h", "up to 1,400 h"),
    )
    other = dataclasses.replace(
        results, advice=dataclasses.replace(results.advice, overhaul_band=band)
    )
    checked, document = compose_checked(other)
    assert document.cautions[0].code == "figures-disagree"
    assert checked.advice.cautions[0].code == "figures-disagree"
    first = next(x for x in checked.answer_lines() if x.startswith("Caution"))
    assert first == f"Caution (figures-disagree): {document.cautions[0].text}"
    assert {"1,450", "1,400"} <= set(re.findall(r"[\d,]{5}", first.replace(".00", "")))


def test_a_report_without_disagreement_stays_as_it_is() -> None:
    results, document = report_of(QUICK)
    checked, again = compose_checked(results)
    assert checked is results
    assert again == document


@pytest.mark.parametrize(
    ("text", "value", "step"),
    [
        ("1,240 h", 1240.0, 1.0),
        ("17.9 %", 17.9, 0.1),
        ("18 in 100", 18.0, 1.0),
        ("24 in 1,000", 2.4, 0.1),
        ("0.094", 0.094, 0.001),
        ("no failures", 0.0, 1.0),
    ],
)
def test_numbers_are_read_with_their_last_digit(text: str, value: float, step: float) -> None:
    found = read_number(text)
    assert found is not None
    assert found.value == pytest.approx(value)
    assert found.step == pytest.approx(step)


@pytest.mark.parametrize(
    ("a", "b", "agree"),
    [
        ((91.6, 0.1), (91.5, 0.1), False),  # two roundings of one bound are two bounds
        ((18.0, 1.0), (17.98, 0.0), True),  # rounded up
        ((17.0, 1.0), (17.98, 0.0), True),  # rounded down
        ((19.0, 1.0), (17.98, 0.0), False),
        ((17.9, 0.1), (18.0, 1.0), True),
        ((700.0, 50.0), (749.0, 0.0), True),
        ((650.0, 50.0), (749.0, 0.0), False),
        ((3.0, 0.0), (3.0, 0.0), True),
        ((3.0, 0.0), (3.1, 0.0), False),
    ],
)
def test_readings_agree_at_the_precision_shown(
    a: tuple[float, float], b: tuple[float, float], agree: bool
) -> None:
    one, two = (SeenNumber(value=v, step=s) for v, s in (a, b))
    assert one.agrees(two) is agree
    assert two.agrees(one) is agree


def test_words_agree_only_when_they_are_the_same() -> None:
    same = Sight(key="verdict", where="a", shown="supported")
    assert same.agrees(Sight(key="verdict", where="b", shown="supported"))
    assert not same.agrees(Sight(key="verdict", where="b", shown="contradicted"))


def faces(results: Value, document: Document, folder: Path) -> dict[str, str]:
    """Return the text of the page and, where poppler is installed, of the paper."""
    from html import unescape

    from fleetstats.report.write import write_report

    page = write_report(document, results, folder)
    html = re.sub(r"(?s)<(script|style)\b.*?</\1>", " ", page.read_text("utf-8"))
    out = {"page": unescape(re.sub(r"<[^>]+>", " ", html))}
    if shutil.which("pdftotext"):
        done = subprocess.run(
            ["pdftotext", "-layout", "-nopgbrk", str(page.with_name("report.pdf")), "-"],
            check=True, capture_output=True, text=True,
        )  # fmt: skip
        out["paper"] = done.stdout
    return {k: " ".join(t.split()) for k, t in out.items()}


def test_page_and_paper_say_what_the_checked_document_says(tmp_path: Path) -> None:
    results, document = report_of(QUICK)
    for face, text in faces(results, document, tmp_path / "report").items():
        flat = re.sub(r"\s+", "", text)
        assert document.brief is not None  # it stands in place of the answer
        for sentence in (*document.brief.answer, results.advice.horizon.sentence):
            assert re.sub(r"\s+", "", sentence) in flat, f"{face}: {sentence}"
        for section in document.sections:
            for block in section.blocks:
                if isinstance(block, Table) and block.key in ("answers", "claim-box"):
                    for row in block.rows:
                        for number in re.findall(r"[\d,]+ h|[\d.]+ %", " ".join(map(str, row))):
                            assert number.replace(" ", "") in flat, f"{face}: {number}"
