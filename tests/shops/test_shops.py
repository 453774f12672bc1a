"""From raw sheets to counts: begin, fill in the open lines by the truth, read, count.

The shops are invented, and their truth is what they were drawn with (`shop_makers.py`).
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path

import pytest
from shop_made import Shop
from shop_makers import SHOPS

from fleetstats.records.audit.audit import Audit, audit_records
from fleetstats.records.guess.guess import GuessedStudy
from fleetstats.records.guess.write import OPEN_MARK, begin_from_files
from fleetstats.records.readers import read_records
from fleetstats.spells.build import build_spells
from fleetstats.spells.spells import Spells
from fleetstats.study.scaffold import toml_text
from fleetstats.study.study import read_study

MOST_ACTS = 40
"""Lines that a person may have to fill in (the limit set for the six shops)."""


def open_lines(text: str) -> list[str]:
    """Return what each open line of a study file asks for, in order."""
    return [_asked(m) for m in _OPEN.finditer(text)]


_OPEN = re.compile(rf'^#? ?(?P<key>"(?:[^"\\]|\\.)*"|[a-z_-]+) = "…"    {OPEN_MARK}.*$', re.M)


def _asked(m: re.Match[str]) -> str:
    key = m["key"]
    return str(json.loads(key)) if key.startswith('"') else key


def fill_in(path: Path, answers: dict[str, str]) -> int:
    """Fill in the open lines of a study file as a person would; return how many."""
    text = path.read_text(encoding="utf-8")
    n = 0

    def filled(m: re.Match[str]) -> str:
        nonlocal n
        asked = _asked(m)
        if asked not in answers:
            return m[0]
        n += 1
        return f"{m['key']} = {toml_text(answers[asked])}"

    path.write_text(_OPEN.sub(filled, text), encoding="utf-8")
    return n


@dataclass(frozen=True)
class Begun:
    """A shop's study before and after its open lines were filled in."""

    shop: Shop
    guessed: GuessedStudy
    text: str
    before: Audit
    acts: int
    audit: Audit
    spells: Spells


@pytest.fixture(scope="module", params=list(SHOPS))
def begun(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Begun:
    raw = tmp_path_factory.mktemp("raw")
    folder = tmp_path_factory.mktemp("study") / "new"
    shop = SHOPS[request.param](raw)
    guessed = begin_from_files(folder, shop.files)
    path = folder / "study.toml"
    text = path.read_text(encoding="utf-8")
    study = read_study(folder)
    before = audit_records(study, read_records(study))
    acts = fill_in(path, dict(shop.answers))
    study = read_study(folder)
    records = read_records(study)
    audit = audit_records(study, records)
    spells = build_spells(study, records, audit).spells if audit.ok else None
    assert spells is not None, "\n".join(str(f) for f in audit.findings if f.severity == "error")
    return Begun(shop, guessed, text, before, acts, audit, spells)


def test_the_counts_hold_the_truth(begun: Begun) -> None:
    truth = begun.shop.truth
    assert begun.spells.n_engines == truth.engines
    assert begun.spells.n_failed == truth.failures
    # hours are written with one digit after the point, some sums in another order
    assert begun.spells.exposure_h == pytest.approx(truth.hours_h, abs=0.01)


def test_every_open_line_is_one_that_a_person_can_answer(begun: Begun) -> None:
    asked = open_lines(begun.text)
    assert set(asked) <= set(begun.shop.answers)
    assert begun.acts == len(asked) <= MOST_ACTS
    assert set(begun.shop.answers) == set(asked)


def test_the_study_stops_until_the_open_words_are_answered(begun: Begun) -> None:
    assert begun.before.ok == (not begun.shop.answers)


def test_sheets_without_records_are_named(begun: Begun) -> None:
    assert tuple(p.place for p in begun.guessed.passed) == begun.shop.passed
    assert all(p.reason for p in begun.guessed.passed)


def test_each_guess_has_its_reason(begun: Begun) -> None:
    guesses = [*begun.guessed.settings, *(g for s in begun.guessed.sheets for g in s.guesses)]
    assert len(guesses) >= 8
    assert all(g.reason and g.sure in ("sure", "likely", "open") for g in guesses)


def test_no_word_that_tells_of_a_failure_got_a_meaning_by_a_guess(begun: Begun) -> None:
    """The answer to each word that is a failure in truth came from a person, or from our words."""
    failing = {w for w, e in begun.shop.answers.items() if e == "failed"}
    stated = {g.what for s in begun.guessed.sheets for g in (*s.endings, *s.kinds)
              if g.stands and not g.known}  # fmt: skip
    assert not failing & stated
