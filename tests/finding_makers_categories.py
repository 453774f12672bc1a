"""A small study for each finding on columns of words."""

from __future__ import annotations

USE = "engine,exit_hours,ending,use\n"
ASK = '[categories]\ncolumns = ["use"]\n'

CATEGORY = {
    "category-unknown": (USE + "A,5,running,ferrying\nB,9,running,tow\n", ASK),
    "category-missing": ("engine,exit_hours,ending\nA,5,running\n", ASK),
    "category-blank": (USE + "A,5,running,n/a\nB,9,running,tow\n", ASK),
}
"""Code = rows of lives.csv, and further lines of the study file."""

CATEGORY_LOG = {
    "category-changed-at-end": (
        "engine,date,hours,kind,use\nA,2020-01-01,0,installed,school\n"
        "A,2021-01-01,90,reading,\nA,2022-01-01,190,failed,towing\n",
        ASK,
    ),
}
"""Code = rows of a log, and further lines of the study file."""
