"""The page on which a printed figure opens what it rests on, down to the rows.

It stands beside the report, holds its lives once and needs no network. Without its script the
figures open all the same; the rows then stand in the table of lives.
"""

from __future__ import annotations

from typing import Any

from fleetstats.core.units import text_decided, text_hours, text_number
from fleetstats.document.cells import set_text
from fleetstats.report.json import script_json
from fleetstats.report.lineage.files import LIVES
from fleetstats.report.lineage.shown import HEADS, USE, shown_line
from fleetstats.report.template_text import page_environment, page_policy, read_template
from fleetstats.studies.lineage import Figured, Lineage, SettingUsed
from fleetstats.study.assumptions import text_value
from fleetstats.vocabulary.caution import STANDING_NOTICE
from fleetstats.vocabulary.wording import count

MOST_LIVES = 2_000
"""Lines of the table of lives that the page holds; the rest stands in the table alone."""


def lineage_html(lineage: Lineage) -> str:
    """Return the page of a lineage.

    Parameters
    ----------
    lineage : Lineage
        What each figure rests on.
    """
    from markupsafe import Markup

    env = page_environment()
    script = read_template("lineage.js")
    return env.get_template("lineage.html.j2").render(
        title=set_text(lineage.title),
        report_id=lineage.report_id,
        figures=[_figure(f, lineage) for f in lineage.figures],
        lives=_lives(lineage),
        lives_file=LIVES,
        of_lives=_settings(lineage.settings_of_lives, lineage),
        notice=STANDING_NOTICE,
        css=Markup(read_template("page.css") + read_template("lineage.css")),
        js=Markup(script),
        data=Markup(script_json(_data(lineage))),
        policy=Markup(page_policy(script)),
    )


def _figure(f: Figured, lineage: Lineage) -> dict[str, Any]:
    n = 0 if lineage.lives is None else len(lineage.lives.counted)
    return {
        "key": f.key,
        "name": set_text(f.name),
        "printed": [set_text(p) for p in f.printed],
        "value": _in_full(f),
        "interval": _interval(f),
        "rule": set_text(f.rule),
        "settings": _settings(f.settings, lineage),
        "figures": [(k, set_text(lineage[k].name)) for k in f.figures],
        "parts": list(f.chapters),
        "of": set_text(f.of),
        "share": f"{len(f.lives):,} of {n:,}" if f.of and lineage.lives is not None else "",
        "rows": [f"{set_text(file)} row {row}" for file, row in f.rows],
        "made_again": f.made_again,
    }


def _in_full(f: Figured) -> str:
    if not isinstance(f.value, int | float):
        return set_text(str(f.value))
    unit = {"h": " h", "share": " (a share of 1)"}.get(f.unit, "")
    return f"{f.value!r}{unit}"


def _interval(f: Figured) -> str:
    if f.level is None:
        return ""
    low, high = _in_unit(f.low, f.unit, "low"), _in_unit(f.high, f.unit, "high")
    return f"{low} to {high} at {100 * f.level:g} % between both edges"


def _in_unit(x: float | None, unit: str, edge: str) -> str:
    if x is None:
        return "no limit"
    if unit == "h":
        return text_hours(x)
    return text_decided(x, edge=edge) if unit == "share" else text_number(x)


def _settings(keys: tuple[str, ...], lineage: Lineage) -> list[dict[str, str]]:
    known: dict[str, SettingUsed] = {s.key: s for s in lineage.settings}
    return [
        {
            "key": k,
            "value": set_text(text_value(known[k].value)),
            "from": "set by the study" if known[k].chosen else "default",
        }
        for k in keys
        if k in known
    ]


def _lives(lineage: Lineage) -> dict[str, Any]:
    """Return the account of the table of lives in words."""
    lives = lineage.lives
    if lives is None:
        return {"there": False, "why": lineage.no_lives, "cut": "", "account": ""}
    cut = ""
    if len(lives.lines) > MOST_LIVES:
        cut = (
            f"This page holds the first {MOST_LIVES:,} of {len(lives.lines):,} lines; all stand in "
            f"{LIVES}."
        )
    out = f"{sum(bool(x.life) for x in lives.lines) - len(lives.counted):,} not counted"
    used, none = len(lives.rows_in_lives), len(lives.rows_in_none)
    return {
        "there": True,
        "why": "",
        "cut": cut,
        "account": f"{count(lives.n_read, 'row')} read = {used:,} in {len(lives.counted):,} lives "
        f"counted and {out} + {none:,} that became no life.",
    }


def _data(lineage: Lineage) -> dict[str, Any]:
    """Return what the page's script needs to show rows: heads, lines, and each figure's lives."""
    lines = () if lineage.lives is None else lineage.lives.lines[:MOST_LIVES]
    return {
        "heads": HEADS,
        "use": USE,
        "lines": [shown_line(x) for x in lines],
        "of": {f.key: "every" if f.every else [str(i) for i in f.lives]
               for f in lineage.figures if f.of},
        "file": LIVES,
    }  # fmt: skip
