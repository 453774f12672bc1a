"""A small study for each finding on rows that are no engine and on lives that cannot be."""

from __future__ import annotations

LIFE = "engine,exit_hours,ending\n"
TEN = "".join(f"E-{k},{100.1 * k:.1f},running\n" for k in range(1, 11))
DATED = "engine,exit_hours,ending,in_service,last_reading\n"
COPIED = "".join(
    f"{engine}-{k},{123.4 + 71.3 * k:.1f},running,2018-0{k}-03,2025-0{k}-11\n"
    for engine in ("K", "MUH")
    for k in range(1, 8)
)

DOUBTFUL = {
    "totals-row": (LIFE + "A,5,running\nTotal:,5,\n", ""),
    "totals-row-failed": (LIFE + "A,5,running\nTotal loss,500,failed\n", ""),
    "sum-of-rows": (LIFE + TEN + "E-77,5505.5,running\n", ""),
    "hours-far": (LIFE + TEN + "E-77,12791,running\n", ""),
    "hours-low": (
        DATED
        + "".join(f"E-{k},{100.1 * k:.1f},running,2010-01-01,2025-01-01\n" for k in range(5, 16))
        + "E-77,5,failed,2010-01-01,2025-01-01\n",
        "",
    ),
    "copied-life": (DATED + COPIED, ""),
    "ids-alike": (LIFE + "E-101,5,running\nE-1O1,900,running\n", ""),
}
"""Code = rows of lives.csv, and further lines of the study file."""
