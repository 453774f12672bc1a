"""A small table of histories for every code that only such a table can raise."""

from __future__ import annotations

HEAD = (
    "engine,in service,failed at,failed on,cause,back in service,new crank at,meter changed at,"
    "failed at 2,hours now,status\n"
)


def _rows(*rows: str) -> str:
    return HEAD + "".join(f"{r}{',' * (10 - r.count(','))}\n" for r in rows)


KNOWN = '[records.renews]\n"back in service" = "nothing"\n"new crank" = "part"\n'
HISTORIES: dict[str, tuple[str, str]] = {
    "history-order": (_rows("A,,800,,,,,,,700"), KNOWN),
    "history-hours-missing": (_rows("A,,,2020-05-01,,,,,,700"), KNOWN),
    "history-now-missing": (_rows("A,,800,,,800", "B,,,,,,,,,90"), KNOWN),
    "history-meter-open": (_rows("A,,,,,,,800,,900"), KNOWN),
    "history-meter-place": (
        _rows("A,,300,,,300,,800,,900"), 'after_meter_change = "new-meter"\n' + KNOWN,
    ),
    "history-repair-open": (_rows("A,,800,,,800,,,,900"), ""),
    "history-return-assumed": (_rows("A,,800,,,,,,,900"), KNOWN),
    "history-repair-unexplained": (_rows("A,,,,,,500,,,900"), KNOWN),
    "history-age-since-new": (
        _rows("A,,800,,,,800,,,900"), KNOWN.replace('"part"', '"all"'),
    ),
    "history-ending": (_rows("A,,,,,,,,,900,modified"), KNOWN),
    "history-engine-twice": (_rows("A,,,,,,,,,900", "A,,,,,,,,,950"), KNOWN),
}  # fmt: skip
"""Code = rows of a table of histories, and further lines below its [[records]]."""
