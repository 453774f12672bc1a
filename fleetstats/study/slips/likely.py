"""What a value written in the way of a letter or a spreadsheet most likely means in a study file.

Nothing is taken as meant: each answer is a proposal that stands beside the refusal.
"""

from __future__ import annotations

import datetime as dt
import re

_NUMBER = r"[+-]?\d+(?:\.\d+)?"
_UNIT = r"(?:h|hr|hrs|hour|hours|std|heures?|years?|months?|days?|eur|usd|€|\$)\.?"
_CURLY = str.maketrans("\u201c\u201d\u201e\u201f\u00ab\u00bb\u2018\u2019\u201a", '""""""' + "'''")


def likely_value(text: str) -> str:
    """Return what some text most likely means, as TOML writes it; empty if that is not plain.

    Parameters
    ----------
    text : str
        A value as written, without a comment: ``0,9``, ``95%``, ``1000 h``, ``30.09.2026``,
        ``True``. Two readings are joined by " or ".

    Examples
    --------
    >>> from fleetstats.study.slips.likely import likely_value
    >>> likely_value("0,9"), likely_value("95%"), likely_value("1000 h"), likely_value("30.09.2026")
    ('0.9', '0.95', '1000', '2026-09-30')
    >>> likely_value("1,200"), likely_value("03/04/2026")
    ('1200 or 1.2', '2026-04-03 (day first) or 2026-03-04 (month first)')
    """
    bare = text.strip().translate(_CURLY).strip("\"'").strip()
    for read in (_percent, _number, _date, _yes_or_no):
        if meant := read(bare):
            return meant
    return ""


def _percent(bare: str) -> str:
    m = re.fullmatch(rf"({_NUMBER})\s*(?:%|percent|per cent)", bare.replace(",", "."), re.I)
    return f"{float(m[1]) / 100:.10g}" if m else ""


def _number(bare: str) -> str:
    bare = re.sub(rf"\s*{_UNIT}$", "", bare, flags=re.IGNORECASE)
    if re.fullmatch(_NUMBER, bare):
        return bare.removeprefix("+")
    if re.fullmatch(r"\d{1,3}(?:[ '\u00a0\u202f]\d{3})+", bare):
        return re.sub(r"\D", "", bare)
    if m := re.fullmatch(r"(\d{1,3}),(\d{3})", bare):
        return f"{m[1]}{m[2]} or {float(f'{m[1]}.{m[2]}'):g}" if m[1] != "0" else f"0.{m[2]}"
    if m := re.fullmatch(r"(\d+),(\d+)", bare):
        return f"{m[1]}.{m[2]}"
    if m := re.fullmatch(r"\.(\d+)", bare):
        return f"0.{m[1]}"
    return ""


def _date(bare: str) -> str:
    m = re.fullmatch(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})", bare)
    if m:
        first, second, year = int(m[1]), int(m[3]), int(m[4])
        days = [
            ("day first", _day(year, second, first)),
            ("month first", _day(year, first, second)),
        ]
        found = {d: how for how, d in reversed(days) if d}
        if len(found) == 2 and m[2] != ".":
            return " or ".join(f"{d} ({how})" for how, d in days)
        return days[0][1] or days[1][1]
    m = re.fullmatch(r"(\d{4})[./](\d{1,2})[./](\d{1,2})", bare)
    m = m or re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", bare)
    return _day(int(m[1]), int(m[2]), int(m[3])) if m else ""


def _day(year: int, month: int, day: int) -> str:
    try:
        return dt.date(year, month, day).isoformat()
    except ValueError:
        return ""


def _yes_or_no(bare: str) -> str:
    word = bare.lower()
    if word in ("true", "yes", "on", "ja", "oui"):
        return "true"
    return "false" if word in ("false", "no", "off", "nein", "non") else ""
