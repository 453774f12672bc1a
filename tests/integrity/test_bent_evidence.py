"""However the records or the question are bent, no claim is supported without the reason beside it.

Invented fleets, each with a stated truth: the claim does not hold. The tool may stop, may call the
claim not shown or contradicted, or may call it supported where the very first page names what is
wrong. It may not call it supported in silence.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from cases_lives import LIVES
from cases_many import MANY
from cases_settings import SETTINGS
from made import Trick, honest, lives, outcome, write

TRICKS = (*LIVES, *SETTINGS, *MANY)


def test_there_are_enough_cases_and_each_has_a_name() -> None:
    assert len(TRICKS) >= 60
    assert len({t.name for t in TRICKS}) == len(TRICKS)


def test_the_honest_records_do_not_support_the_claim(tmp_path: Path) -> None:
    write(tmp_path, lives(honest()))
    assert outcome(tmp_path).word in ("contradicted", "not-yet-shown")


@pytest.mark.parametrize("trick", TRICKS, ids=lambda t: t.name.replace(" ", "-"))
def test_no_claim_is_supported_in_silence(trick: Trick, tmp_path: Path) -> None:
    write(tmp_path, trick.make())
    got = outcome(tmp_path)
    if got.word == "supported":
        assert re.search(trick.reason, got.first_page), got.first_page
