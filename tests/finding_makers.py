"""A small study for every code of the catalogue of findings: the files, and what is in them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from finding_makers_categories import CATEGORY, CATEGORY_LOG
from finding_makers_doubtful import DOUBTFUL
from finding_makers_words import WORDS

LIFE = "engine,exit_hours,ending\n"
LONG = "engine,entry_hours,exit_hours,last_good_hours,ending,cause,confirmed,count,note\n"
DOUBTED = "engine,exit_hours,ending,clock_doubt\n"
GOOD = "E-9,,500,,running,,,,\n"
DATED = "engine,entry_hours,exit_hours,ending,in_service,observed_from,last_reading,ended_date\n"
MODIFIED = "engine,exit_hours,ending,modified_at_hours,modified_to\n"
OVERHAULED = "engine,entry_hours,exit_hours,ending,overhauled_at_hours\n"
BOTH = "[hours.factors]\ntach = [1.1, 1.0, 1.2]\n"
SINCE = '[hours]\nbasis = "since-overhaul"\n'

LIVES: dict[str, tuple[str, str]] = {
    "file-unreadable": ("", ""),
    "column-missing": ("engine,ending\nE-1,running\n", ""),
    "column-twice": ("serial,serial no,exit_hours,ending\nA,B,5,running\n", ""),
    "decimal-ambiguous": ("engine;exit_hours;ending\nA;1,234;running\n", ""),
    "decimal-mixed": ("engine;exit_hours;ending\nA;1,5;running\nB;2.25;running\n", ""),
    "file-empty": (LIFE, ""),
    "column-unused": ("engine,exit_hours,ending,colour\nA,5,running,red\n", ""),
    "example-row": (LIFE + "EXAMPLE,5,running\nA,5,running\n", ""),
    "call-unanswered": ("call,engine,exit_hours,ending\n1,B,,\n2,A,5,running\n", ""),
    "row-long": (LONG + GOOD + "E-1,,100,,running,,,,,,extra\n", ""),
    "row-short": (LONG + GOOD + "E-1,,100\n", ""),
    "engine-missing": (LIFE + ",100,running\n", ""),
    "engine-unreadable": (LIFE + "...,100,running\n", ""),
    "hours-missing": (LIFE + "A,,running\n", ""),
    "hours-unreadable": (LIFE + "A,lots,running\n", ""),
    "hours-impossible": (LIFE + "A,-5,running\n", ""),
    "exit-before-entry": (LONG + "A,600,100,,running,,,,\n", ""),
    "failure-without-exposure": (LONG + "A,100,100,,failed,,,,\n", ""),
    "hours-below-meter": (LONG + "A,,2.3e-13,,failed,,,,\n", ""),
    "last-good-after-exit": (LONG + "A,,100,150,found-at-check,,,,\n", ""),
    "ending-unknown": (LIFE + "A,100,faild\n", ""),
    "meter-unknown": ("engine,exit_hours,ending,meter\nA,100,running,sundial\n", ""),
    "count-unreadable": (LONG + "A,,100,,running,,,2.5,\n", ""),
    "clock-doubt-unreadable": (DOUBTED + "A,100,running,5\n", ""),
    "ending-missing": (LIFE + "A,100,\n", ""),
    "entry-missing": (DATED + "A,,100,running,2018-01-01,2020-01-01,,\n", ""),
    "overhaul-within-life": (OVERHAULED + "A,0,900,running,400\n", ""),
    "no-exposure": (LONG + "A,100,100,,running,,,,\n", ""),
    "confirmed-unreadable": (LONG + "A,,100,,failed,piston,perhaps,,\n", ""),
    "covariate-unreadable": (
        "engine,exit_hours,ending,bore\nA,100,running,wide\nB,90,running,2\n",
        '[groups]\ncovariates = ["bore"]\n',
    ),
    "covariate-missing": (LIFE + "A,100,running\n", '[groups]\ncovariates = ["bore"]\n'),
    "date-ambiguous": (DATED + "A,,100,running,03/04/2019,,,\n", ""),
    "date-impossible": (DATED + "A,,100,running,31.04.2019,,,\n", ""),
    "date-unreadable": (DATED + "A,,100,running,spring,,,\n", ""),
    "modification-unclear": (MODIFIED + "A,100,running,50,\n", ""),
    "modification-outside": (MODIFIED + "A,100,running,150,B\n", ""),
    "last-good-before-entry": (LONG + "A,50,100,20,found-at-check,,,,\n", ""),
    "last-good-missing": (LONG + "A,,100,,found-at-check,,,,\n", ""),
    "life-before-overhaul": (OVERHAULED + "A,0,900,running,400\n", SINCE),
    "running-ended": (DATED + "A,,100,running,,,,2024-01-01\n", ""),
    "text-cut": (LONG + "A,,100,,failed,,,," + "x" * 3000 + "\n", ""),
    "control-characters": (LONG + "A,,100,,failed,pis\x00ton,,,\n", ""),
    "duplicate-row": (LONG + GOOD + GOOD, ""),
    "duplicate-life": (LONG + GOOD + "E9,100,700,,failed,,,,\n", ""),
    "engine-respelt": (LIFE + "E-9,100,removed\nE9,90,removed\n", ""),
    "hours-backwards": (
        "engine,entry_hours,exit_hours,ending,last_reading,ended_date\n"
        "A,0,500,removed,,2022-01-01\nA,100,400,running,2024-01-01,\n",
        "",
    ),
    "hours-exceed-calendar": (DATED + "A,0,9000,running,2025-01-01,,2025-02-01,\n", ""),
    "use-implausible": (DATED + "A,0,4000,running,2025-01-01,,2025-07-01,\n", ""),
    "date-future": (DATED + "A,0,100,running,2020-01-01,,2027-01-01,\n", ""),
    "dates-backwards": (DATED + "A,0,100,running,2024-01-01,,2023-01-01,\n", ""),
    "cause-misspelt": (
        LONG + "A,,100,,failed,pistn,,,\n", '[question]\ncauses = ["piston"]\n',
    ),
    "cause-undeclared": (LONG + "A,,100,,failed,gremlin,,,\n", '[question]\ncauses = ["piston"]\n'),
    "more-than-built": (LIFE + "A,100,running\nB,100,running\n", "[fleet]\nbuilt = 1\n"),
    "fate-unknown": (LIFE + "A,100,running\n", "[fleet]\nbuilt = 3\n"),
    "meter-mixed": (
        "engine,exit_hours,ending,meter\nA,100,running,tach\nB,90,running,flight\n", BOTH,
    ),
    "possible-duplicate": (
        "engine,exit_hours,ending,cause,ended_date\n"
        "K-1234,812.4,failed,piston,2024-05-01\nK-1243,812.4,failed,piston,2024-05-01\n",
        "",
    ),
    "reading-stale": (DATED + "A,0,100,running,2015-01-01,,2019-01-01,\n", ""),
    "hours-heaped": (
        LIFE + "".join(f"E-{i},{100 * (1 + i % 9)},removed\n" for i in range(40)), "",
    ),
    "all-from-new": (LIFE + "A,100,running\n", ""),
    "cause-missing": (LONG + "A,,100,,failed,,,,\n", ""),
    "removal-unexplained": (LONG + "A,,100,,removed,,,,\n", ""),
    "reading-undated": (LIFE + "A,100,running\n", ""),
    "failure-or-not": (LONG + "A,,100,,running,crankshaft,yes,,\n", ""),
    "trouble-unread": (LONG + "A,,100,,running,,,,metal in the filter\n", ""),
    "clock-without-factor": ("engine,exit_hours,ending,meter\nA,100,running,hobbs\n", ""),
    "reading-not-carried": (
        DATED + "A,0,100,running,,,2019-01-01,\n", "[hours]\ncarry_to_analysis_date = true\n",
    ),
    "serial-not-built": (LIFE + "Z-9,100,running\n", '[fleet]\nserials_file = "built.txt"\n'),
    "serials-odd": (LIFE + "A,100,running\n", '[fleet]\nserials_file = "built.txt"\n'),
}  # fmt: skip
"""Code = rows of lives.csv, and further lines of the study file."""

LOG = "engine,date,hours,kind,cause,confirmed,build,since_new_hours,component,serial,meter\n"
NEW = "A,2020-01-01,0,installed,,,,,,,\n"
PARTS = '[hours]\ncomponent = "turbocharger"\n'
T1 = "A,2020-01-01,0,part-fitted,,,,,turbocharger,T1,\n"


def _log(*rows: str) -> str:
    return LOG + NEW + "".join(f"{r}{',' * (10 - r.count(','))}\n" for r in rows)


END = "A,2023-01-01,500,reading"
LOGS: dict[str, tuple[str, str]] = {
    "log-example-row": (_log("EXAMPLE,2021-01-01,100,reading", END), ""),
    "log-engine-missing": (_log(",2021-01-01,100,reading", END), ""),
    "log-kind-unknown": (_log("A,2021-01-01,100,fell off", END), ""),
    "log-hours-unreadable": (_log("A,2021-01-01,lots,reading", END), ""),
    "log-hours-impossible": (_log("A,2021-01-01,-5,reading", END), ""),
    "log-meter-unknown": (_log("A,2021-01-01,100,reading,,,,,,,sundial", END), ""),
    "log-cell-left-out": (_log("A,2021-01-01,100,reading,,perhaps", END), ""),
    "log-hours-missing": (_log("A,2021-01-01,100,reading", "A,2022-01-01,,failed"), ""),
    "log-before-installation": (
        LOG + "A,2020-01-01,50,reading,,,,,,,\nA,2020-02-01,0,installed,,,,,,,\n"
        "A,2021-02-01,300,reading,,,,,,,\n", "",
    ),
    "log-installed-twice": (_log("A,2021-01-01,200,installed", END), ""),
    "log-removed-twice": (_log("A,2021-01-01,200,removed", "A,2022-01-01,200,removed"), ""),
    "log-event-twice": (
        "engine,date,hours,kind,source\nA,2020-01-01,0,installed,owner\n"
        "A,2021-01-01,500,failed,owner\nA,2021-01-22,502,failed,shop\n", "",
    ),
    "log-failed-while-removed": (_log("A,2021-01-01,200,removed", "A,2022-01-01,210,failed"), ""),
    "log-hours-while-removed": (_log("A,2021-01-01,200,removed", "A,2022-01-01,290,reading"), ""),
    "log-gap": (_log("A,2021-01-01,300,removed", "A,2022-01-01,400,returned", END), ""),
    "log-after-retirement": (_log("A,2021-01-01,300,retired", END), ""),
    "log-hours-backwards": (_log("A,2021-01-01,800,reading", END), ""),
    "log-too-fast": (_log("A,2020-01-03,400,reading"), ""),
    "log-overhaul-runs-on": (_log("A,2021-01-01,700,removed", "A,2021-03-01,760,overhauled"), ""),
    "log-since-new-unknown": (
        LOG + "A,2021-01-01,50,reading,,,,,,,\nA,2022-01-01,90,reading,,,,,,,\n",
        '[hours]\nlog_hours = "since-overhaul"\n',
    ),
    "log-clocks-disagree": (_log("A,2021-01-01,300,reading,,,,420"), ""),
    "log-failure-without-exposure": (
        LOG + "A,2020-01-01,812,failed,,,,,,,\nB,2020-01-01,0,installed,,,,,,,\n"
        "B,2021-01-01,90,reading,,,,,,,\n", "",
    ),
    "log-no-exposure": (LOG + "A,2020-01-01,640,reading,,,,,,,\n", ""),
    "log-return-not-written": (
        _log("A,2021-01-01,300,removed,overhaul", "A,2021-02-01,300,overhauled", END), "",
    ),
    "log-removal-unexplained": (_log("A,2021-01-01,300,removed"), ""),
    "log-teardown-alone": (_log("A,2021-01-01,300,teardown,,yes", END), ""),
    "log-teardown-unclear": (_log("A,2021-01-01,300,removed", "A,2021-02-01,,teardown"), ""),
    "log-build-changed": (
        LOG + "A,2020-01-01,0,installed,,,I,,,,\nA,2021-01-01,90,reading,,,II,,,,\n", "",
    ),
    "log-build-missing": (_log("A,2021-01-01,300,modified", END), ""),
    "log-no-overhaul-history": (
        LOG + "A,2020-01-01,640,reading,,,,,,,\nA,2021-01-01,740,reading,,,,,,,\n", SINCE,
    ),
    "component-never-named": (_log(END), PARTS),
    "component-in-two-engines": (
        LOG + NEW + T1 + "B,2020-01-01,0,installed,,,,,,,\n"
        "B,2021-01-01,250,part-fitted,,,,,turbocharger,T1,\nB,2022-01-01,550,reading,,,,,,,\n"
        "A,2022-01-01,700,reading,,,,,,,\n", PARTS,
    ),
    "component-not-fitted": (
        LOG + NEW + T1 + "A,2021-01-01,300,part-removed,,,,,turbocharger,T7,\n"
        "A,2022-01-01,400,reading,,,,,,,\n", PARTS,
    ),
    "component-place-taken": (
        LOG + NEW + T1 + "A,2021-01-01,300,part-fitted,,,,,turbocharger,T7,\n"
        "A,2022-01-01,400,reading,,,,,,,\n", PARTS,
    ),
    "component-hours-unknown": (
        LOG + "A,2020-01-01,600,reading,,,,,,,\nB,2020-01-01,0,part-fitted,,,,,turbocharger,T1,\n"
        "A,2022-01-01,700,reading,,,,,,,\nB,2022-01-01,700,reading,,,,,,,\n", PARTS,
    ),
    "component-hours-disagree": (
        LOG + NEW + T1 + "B,2020-01-01,0,installed,,,,,,,\n"
        "A,2021-01-01,400,part-removed,,,,,turbocharger,T1,\n"
        "B,2021-02-01,250,part-fitted,,,,900,turbocharger,T1,\nB,2022-01-01,550,reading,,,,,,,\n"
        "A,2022-01-01,700,reading,,,,,,,\n", PARTS,
    ),
    "component-fitting-inferred": (
        LOG + NEW + "A,2021-01-01,400,part-removed,,,,150,turbocharger,T1,\n"
        "A,2022-01-01,700,reading,,,,,,,\n", PARTS,
    ),
    "component-serial-missing": (
        LOG + NEW + "A,2021-01-01,300,part-fitted,,,,,turbocharger,,\n"
        "A,2022-01-01,400,reading,,,,,,,\n", PARTS,
    ),
    "clock-started-together": (
        LOG + "A,2020-01-01,0,installed,,,,,,,flight\nA,2022-01-01,1300,reading,,,,,,,tach\n", BOTH,
    ),
    "clock-no-own-factor": (
        LOG + "A,2020-01-01,300,reading,,,,,,,tach\nA,2020-01-01,50,reading,,,,,,,flight\n"
        "A,2021-01-01,500,reading,,,,,,,tach\nA,2021-01-01,220,reading,,,,,,,flight\n", BOTH,
    ),
    "clock-outside-range": (
        LOG + "".join(
            f"A,{2020 + k}-01-01,{300 + 200 * k},reading,,,,,,,tach\n"
            f"A,{2020 + k}-01-01,{50 + 120 * k},reading,,,,,,,flight\n" for k in range(4)
        ), BOTH,
    ),
}  # fmt: skip
"""Code = rows of a log, and further lines of the study file."""

CHECK = "engine,hours,result,mode,grade,value,oil_hours,date\n"
LEAK = "engine,hours,cylinder,reading,supply,reference,temperature,id,retest_of\n"
BENCH = "specimen,stress,life,ended\n"
CONDITION: dict[str, tuple[str, str]] = {
    "condition-engine-unknown": ("checks", CHECK + "Z,100,clean,,,,,\n"),
    "condition-hours-late": ("checks", CHECK + "A,900,clean,,,,,\n"),
    "meter-without-factor": ("checks", CHECK + "A,100,clean,,,,,\n"),
    "decimal-guessed": ("checks", CHECK.replace(",", ";") + "A;1.234;clean;;;;;\n"),
    "number-unread": ("checks", CHECK + "A,lots,clean,,,,,\n"),
    "mode-missing": ("checks", CHECK + "A,100,found,,,,,\n"),
    "cylinder-missing": ("leakdown", LEAK + "A,100,,74,80,,,,\n"),
    "retest-unknown": ("leakdown", LEAK + "A,100,1,74,80,,,r1,r9\n"),
    "retest-other-cylinder": ("leakdown", LEAK + "A,90,1,74,80,,,r1,\nA,100,2,74,80,,,r2,r1\n"),
    "reading-id-twice": ("leakdown", LEAK + "A,90,1,74,80,,,r1,\nA,100,1,74,80,,,r1,\n"),
    "reading-missing": ("leakdown", LEAK + "A,100,1,,80,,,,\n"),
    "reading-impossible": ("leakdown", LEAK + "A,100,1,90,80,,,,\n"),
    "reference-impossible": ("leakdown", LEAK + "A,100,1,74,80,95,,,\n"),
    "supply-impossible": ("leakdown", LEAK + "A,100,1,74,0,,,,\n"),
    "temperature-unknown": ("leakdown", LEAK + "A,100,1,74,80,,tepid,,\n"),
    "stress-missing": ("bench", BENCH + "C-1,,1000,failed\n"),
    "stress-impossible": ("bench", BENCH + "C-1,-4,1000,failed\n"),
    "life-missing": ("bench", BENCH + "C-1,400,,failed\n"),
    "life-impossible": ("bench", BENCH + "C-1,400,0,failed\n"),
    "ended-missing": ("bench", BENCH + "C-1,400,1000,\n"),
    "ended-unknown": ("bench", BENCH + "C-1,400,1000,melted\n"),
    "value-impossible": ("checks", CHECK + "A,100,clean,,,-1,,\n"),
    "oil_hours-impossible": ("checks", CHECK + "A,100,clean,,,,-1,\n"),
    "result-missing": ("checks", CHECK + "A,100,,,,,,\n"),
    "result-unknown": ("checks", CHECK + "A,100,cleen,,,,,\n"),
    "grade-unknown": ("checks", CHECK + "A,100,clean,,gravel,,,\n"),
}
"""Code = shape and rows of a file that chapters read."""

RETURNS = "engine,exit_hours,ending,cause,last_reading,ended_date\n"
TWO = (
    RETURNS + "E-01,500,failed,piston,,2024-01-01\n",
    RETURNS + "E-01,700,running,,2025-01-01,\n",
)
DECIDED = '[[merge.decisions]]\nengine = "{}"\ntake = "{}"\nreason = "seen"\n'
MERGES = {
    "merge-conflict": "",
    "merge-decision-unused": DECIDED.format("E-9", "proposed"),
    "merge-decision-unknown": DECIDED.format("E-1", "other.csv row 9"),
}
"""Code = further lines of the study file, for two returns that disagree on an engine."""


def write_book(path: Path, *, formula: bool, hidden: bool = False) -> None:
    """Write a workbook of one life, with a merged cell or a formula, and a hidden sheet or none."""
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["engine", "exit_hours", "ending", "note"])
    sheet.append(["A", 100, "running", "=1+1" if formula else "x"])
    if not formula:
        sheet.append(["B", 90, "running", "y"])
        sheet.merge_cells("D2:D3")
    if hidden:
        book.create_sheet("Earlier", 0).sheet_state = "hidden"
        book.active = 1
    book.save(path)


WRITERS: dict[str, Callable[[Path], None]] = {
    "merged-cell": lambda p: write_book(p, formula=False),
    "formula-value": lambda p: write_book(p, formula=True),
    "sheets-hidden": lambda p: write_book(p, formula=True, hidden=True),
}
"""Code = what writes the workbook of lives."""

BYTES = {
    "encoding-guessed": ("engine,exit_hours,ending,note\nA,100,running,Kühl\n").encode("cp1252"),
    "file-too-large": (",".join(f"c{i}" for i in range(20_000)) + "\n").encode(),
}
"""Code = the bytes of a table of lives."""

LIVES |= WORDS | DOUBTFUL | CATEGORY
LOGS |= CATEGORY_LOG
