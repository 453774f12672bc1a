"""What a pseudonymous study says of the one that it was made from: `origin.json` in its folder.

It holds counts, steps and figures, never a word of anybody: every name in it is one of a list.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from fleetstats.core.doors.json_text import load_json
from fleetstats.core.doors.plain_files import read_plain
from fleetstats.core.errors import SettingError
from fleetstats.core.value import Value, value

ORIGIN_FILE = "origin.json"
SCHEMA = "fleetstats/origin/1"
MOST_ITEMS = 10_000
DATES = ("month", "quarter", "year")
ANSWERS = (
    "verdict", "failure_high", "failure_low", "plan_from_h", "expect_at_h", "not_beyond_h",
    "supported_h", "oldest_h", "exposure_h", "failed",
)  # fmt: skip
"""Answers that are told as they were at home and as they are here."""
UNIQUE_BY = ("build-and-dates", "hours", "both")
"""By what engines are told apart."""
_CODE = re.compile(r"^[a-z0-9][a-z0-9./-]{0,79}$")
_HASH = re.compile(r"^[0-9a-f]{64}$")


@value
class AnswerTold(Value):
    """One answer: from the records at home, and from those that were coarsened.

    Hours at home are told to the step, shares to three decimals.
    """

    name: str
    at_home: float | str | None
    here: float | str | None


@value
class UniqueTold(Value):
    """Engines that share what can be seen of them with none, one, or more others.

    `before` and `after` are counts of engines: alone, in pairs, and alike to two or more.
    """

    by: str
    before: tuple[int, int, int]
    after: tuple[int, int, int]


@value
class Unlike(Value):
    """A finding, a reason or a departure whose number is not that of the original."""

    what: str
    code: str
    at_home: int
    here: int


@value
class StudyOrigin(Value):
    """What a pseudonymous study says of its original. All of it is its maker's word.

    Parameters
    ----------
    hours_step_h : int
        Step of its hours.
    dates : str
        Step of its dates.
    moved_h : float
        The most by which any hours of an engine were moved.
    account : dict
        Rows of the original: ``read``, ``used``, ``set_aside``; and ``errors`` found.
    reasons : dict
        Rows set aside in the original, by reason.
    unlike : tuple of Unlike
        What the records here no longer tell as the original did.
    answers : tuple of AnswerTold
    unique : tuple of UniqueTold
    looks : dict
        Earlier looks in the original's ledger, and whether it was as written.
    declared : dict
        What the original declared before its records, in counts: ``versions``, whether ``before``
        any look at them, settings ``changed`` since and those of them ``turning`` a verdict. None
        where it declared nothing.
    keyed_hashes : dict
        Of each original file, where the maker keeps a key.
    """

    hours_step_h: int
    dates: str
    moved_h: float
    account: dict[str, int]
    reasons: dict[str, int]
    unlike: tuple[Unlike, ...] = ()
    answers: tuple[AnswerTold, ...] = ()
    unique: tuple[UniqueTold, ...] = ()
    looks: dict[str, Any] | None = None
    declared: dict[str, Any] | None = None
    keyed_hashes: dict[str, str] | None = None

    @property
    def steps_said(self) -> str:
        """Return the steps as sentences name them."""
        return f"hours to {self.hours_step_h} h, dates to the {self.dates}"

    @property
    def told(self) -> dict[str, Any]:
        """Return what stands in the file."""
        out = self.to_dict()
        return {**out, "schema": SCHEMA}


def write_origin(origin: StudyOrigin, folder: Path) -> None:
    """Write `origin.json` into a study's folder."""
    text = json.dumps(origin.told, indent=1, sort_keys=True, ensure_ascii=True, allow_nan=False)
    (folder / ORIGIN_FILE).write_text(text + "\n", encoding="ascii", newline="")


def read_origin(folder: Path) -> StudyOrigin | None:
    """Return what a study's folder says of its original; None where it says nothing.

    Raises
    ------
    SettingError
        If the file cannot be read, or holds anything else than what `write_origin` writes.
    """
    path = folder / ORIGIN_FILE
    if not path.is_file() or path.is_symlink():
        return None
    try:
        return parse_origin(load_json(read_plain(path, "json_bytes")))
    except (OSError, ValueError) as error:
        raise SettingError(
            f"'{ORIGIN_FILE}' is not what a pseudonymous study says of its original "
            f"({type(error).__name__}).",
            "Take the file as its maker sent it; in a study of your own there is none.",
        ) from None


def parse_origin(told: Any) -> StudyOrigin:
    """Return what a text that was read as JSON says of an original.

    Raises
    ------
    ValueError
        If it is anything else than what `write_origin` writes.
    """
    try:
        return _origin(told)
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(type(error).__name__) from None


def _origin(told: Mapping[str, Any]) -> StudyOrigin:
    names = {"schema", *StudyOrigin.__dataclass_fields__}
    if set(told) != names or told["schema"] != SCHEMA:
        raise ValueError("other keys")
    looks, hashes, declared = told["looks"], told["keyed_hashes"], told["declared"]
    out = StudyOrigin(
        hours_step_h=_count(told["hours_step_h"]),
        dates=_one_of(told["dates"], DATES),
        moved_h=float(_number(told["moved_h"])),
        account=_counts(told["account"], ("read", "used", "set_aside", "errors")),
        reasons=_counts(told["reasons"]),
        unlike=_items(told["unlike"], _unlike),
        answers=_items(told["answers"], _answer),
        unique=_items(told["unique"], _unique),
        looks=None if looks is None else {
            "made": _count(looks["made"]), "as_written": looks["as_written"] is True
        },
        declared=None if declared is None else {
            "before": declared["before"] is True,
            **{k: _count(declared[k]) for k in ("changed", "turning", "versions")},
        },
        keyed_hashes=None if hashes is None else {
            f"file {i + 1}": _matched(hashes[f"file {i + 1}"], _HASH) for i in range(len(hashes))
        },
    )  # fmt: skip
    if json.dumps(out.told, sort_keys=True) != json.dumps(dict(told), sort_keys=True):
        raise ValueError("more than we write")
    return out


def _items(told: Any, make: Callable[[Mapping[str, Any]], Any]) -> tuple[Any, ...]:
    if not isinstance(told, list) or len(told) > MOST_ITEMS:
        raise ValueError("no list")
    return tuple(make(x) for x in told)


def _unlike(x: Mapping[str, Any]) -> Unlike:
    return Unlike(
        what=_one_of(x["what"], ("finding", "reason", "departure")),
        code=_matched(x["code"], _CODE),
        at_home=_count(x["at_home"]),
        here=_count(x["here"]),
    )


def _answer(x: Mapping[str, Any]) -> AnswerTold:
    return AnswerTold(
        name=_one_of(x["name"], ANSWERS), at_home=_told(x["at_home"]), here=_told(x["here"])
    )


def _told(x: Any) -> float | str | None:
    if x is None or isinstance(x, str):
        return None if x is None else _matched(x, _CODE)
    return _number(x)


def _unique(x: Mapping[str, Any]) -> UniqueTold:
    before, after = ((_count(a), _count(b), _count(c)) for a, b, c in (x["before"], x["after"]))
    return UniqueTold(by=_one_of(x["by"], UNIQUE_BY), before=before, after=after)


def _counts(told: Any, names: tuple[str, ...] | None = None) -> dict[str, int]:
    if len(told) > MOST_ITEMS or (names is not None and set(told) != set(names)):
        raise ValueError("other names")
    return {_matched(k, _CODE) if names is None else k: _count(v) for k, v in told.items()}


def _count(x: Any) -> int:
    if isinstance(x, bool) or not isinstance(x, int) or x < 0:
        raise ValueError("no count")
    return x


def _number(x: Any) -> float:
    if isinstance(x, bool) or not isinstance(x, int | float) or not math.isfinite(x):
        raise ValueError("no number")
    return x


def _one_of(x: Any, names: tuple[str, ...]) -> str:
    if x not in names:
        raise ValueError("no known name")
    return str(x)


def _matched(x: Any, pattern: re.Pattern[str]) -> str:
    if not isinstance(x, str) or not pattern.match(x):
        raise ValueError("no such text")
    return x
