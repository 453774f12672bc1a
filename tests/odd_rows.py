"""Rows of lives with at most a few odd cells, for laws that two readers agree."""

from __future__ import annotations

import datetime as dt
from typing import Any

from hypothesis import strategies as st

from fleetstats.tables.table import BadCell

HOURS = st.sampled_from(
    ["", "0", "50", "100", "100.0", "100,5", "1.234", "1,234.5", "-1", "12:30", "1e3", "1e999",
     "nan", "inf", "?", "abc", "100 h", "99999999", 100, 100.0, 250.5, True, None, float("nan"),
     dt.date(2024, 1, 1), BadCell(shown="#REF!", why="An error stands")]
)  # fmt: skip
DATES = st.sampled_from(
    ["", "2024-01-01", "2025-06-30", "01/02/2024", "31/12/2024", "2024-13-01", "soon", None,
     dt.date(2023, 5, 5), dt.datetime(2023, 5, 5, 3), 45000]
)  # fmt: skip
TEXTS = st.sampled_from(["", "B1", " B1 ", "b\x00", "Ä", "x" * 3000, None, 3, "na"])
COLUMNS: dict[str, st.SearchStrategy[Any]] = (
    {
        "engine": st.sampled_from(["E1", "E-01", "e 1", "", "?", "EXAMPLE", "ex-ample", "Ä1",
                                   "x" * 90, "--", "\tE1", 7, None, "null", "Total:",
                                   "27 engines", "Signed: J. Smith", "Sum-7", "Summe"]),
        "entry_hours": HOURS,
        "exit_hours": HOURS,
        "last_good_hours": HOURS,
        "ending": st.sampled_from(["running", "failed", "Failed", "found-at-check", "sold", "",
                                   "removed", "overhauled", "boom", None, 1]),
        "cause": st.one_of(TEXTS, st.sampled_from(["crankshaft", "piston seized", "sold"])),
        "confirmed": st.sampled_from(["yes", "no", "", "maybe", 1, True, None]),
        "in_service_date": DATES,
        "observed_from_date": DATES,
        "last_reading_date": DATES,
        "ended_date": DATES,
        "meter": st.sampled_from(["", "flight", "tach", "sundial", None]),
        "found_at_teardown": st.sampled_from(["", "yes", "no", None]),
        "overhauled_at_hours": st.sampled_from(["", "", "", "50", None]),
        "modified_at_hours": st.sampled_from(["", "", "", "75", None]),
        "count": st.sampled_from(["", "1", "3", "0", "1.5", "many", 2, None]),
        "clock_doubt": st.sampled_from(["", "", "", "5 %", "0.05", 0.1, "9", "much", None]),
        "note": st.one_of(TEXTS, st.sampled_from(["seized at 90 h", "no metal", "crack seen"])),
        "source": TEXTS,
        "build": TEXTS,
        "stray": st.sampled_from(["", "1", "\x07", None, "broke", "not failed"]),
        "failed at": st.sampled_from(["", "", "no", "90", None]),
        "boost": st.sampled_from(["", "", "1.5", "much"]),
    }
)  # fmt: skip
PLAIN = {
    "engine": "E-7", "entry_hours": "50", "exit_hours": "100.5", "last_good_hours": "",
    "ending": "failed", "cause": "piston", "confirmed": "yes", "in_service_date": "2024-06-01",
    "observed_from_date": "", "last_reading_date": "", "ended_date": "2025-06-30", "meter": "",
    "clock_doubt": "", "found_at_teardown": "", "overhauled_at_hours": "", "modified_at_hours": "",
    "count": "", "note": "",
    "source": "club B", "build": "B1", "stray": "", "failed at": "", "boost": "",
}  # fmt: skip

RUNS = {"ending": "running", "cause": "", "confirmed": "", "ended_date": ""}
"""What makes a plain row one of an engine that runs on."""


@st.composite
def one_row(draw: st.DrawFn, texts: bool = False) -> dict[str, Any]:
    """A plain row with at most four cells that may be odd; `texts` leaves out other kinds."""
    names = draw(st.lists(st.sampled_from(sorted(COLUMNS)), max_size=4, unique=True))
    kinds = (str, type(None)) if texts else (object,)
    return PLAIN | {n: draw(COLUMNS[n].filter(lambda v: isinstance(v, kinds))) for n in names}
