"""What a single key cannot show: rules, factors, mappings and codes that must fit together."""

from __future__ import annotations

import codecs
import math
from collections.abc import Sequence
from typing import Any

from fleetstats.study.category_settings import check_categories
from fleetstats.study.clock_settings import check_clocks
from fleetstats.study.condition_checks import check_condition, check_condition_columns
from fleetstats.study.look_settings import check_looks
from fleetstats.study.pool_settings import check_decisions, check_population
from fleetstats.study.record_settings import METERS, RecordKeys
from fleetstats.study.schema import show
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.endings import ENDINGS
from fleetstats.vocabulary.events import KINDS as LOG_KINDS
from fleetstats.vocabulary.fields.histories import HISTORY_FIELDS, RENEWED
from fleetstats.vocabulary.fields.history_heads import KNOWN_WORDS, read_head
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.findings import FILE_FINDINGS, LIFE_FINDINGS, LOG_FINDINGS
from fleetstats.vocabulary.findings.entry import ACTIONS
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.nearest import did_you_mean

COUNTS_AS = ("failure", "competing", "censored", "finding", "excluded")
"""What an ending can count as."""
RULE_KEYS = ("ending", "cause", "confirmed", "source", "build", "counts_as", "reason")
GROUPS = ("build", "source", "meter")
"""What lives can be grouped by."""


def check_settings(settings: Settings, files: Sequence[RecordKeys], problems: list[str]) -> None:
    """Add a sentence to `problems` for whatever does not fit together."""
    _check_factors(settings, problems)
    since, until = settings.study.since, settings.study.analysis_date
    if since is not None and until is not None and since >= until:
        problems.append(f"study.since is {since}; it must lie before study.analysis_date, {until}.")
    check_clocks(settings.clocks, METERS, problems)
    for i, rule in enumerate(settings.question.rules, start=1):
        _check_rule(rule, f"question.rules[{i}]", problems)
    _check_question(settings, problems)
    _check_groups(settings, problems)
    _check_treat(settings, problems)
    check_condition(settings, problems)
    check_decisions(settings.merge, problems)
    check_population(settings.merge, problems)
    check_looks(settings.looks, problems)
    _check_portfolio(settings, problems)
    for i, f in enumerate(files, start=1):
        _check_file(f, f"records[{i}]", settings, problems)
        check_condition_columns(f, f"records[{i}]", problems)


def read_factor(value: Any) -> tuple[float, float, float] | None:
    """Return (factor, low, high) of an entry of hours.factors, or None if it cannot be one.

    The entry is a number, a list [factor, low, high] or a table with those names; a number alone
    is exact.
    """
    if isinstance(value, dict):
        if not set(value) <= {"factor", "low", "high"} or "factor" not in value:
            return None
        value = [
            value["factor"],
            value.get("low", value["factor"]),
            value.get("high", value["factor"]),
        ]
    if not isinstance(value, list | tuple):
        value = [value, value, value]
    if len(value) != 3 or any(isinstance(v, bool) or not isinstance(v, int | float) for v in value):
        return None
    factor, low, high = (float(v) for v in value)
    # A meter that runs five times as fast as another is a unit error, not a habit of flying.
    if not all(math.isfinite(v) and 0.2 <= v <= 5.0 for v in (factor, low, high)):
        return None
    return (factor, low, high) if low <= factor <= high else None


def _check_factors(settings: Settings, problems: list[str]) -> None:
    for meter, value in settings.hours.factors.items():
        where = f"hours.factors.{meter}"
        if meter not in METERS:
            problems.append(f"{where}: unknown meter kind. {did_you_mean(meter, METERS)}")
        elif meter == settings.hours.meter:
            problems.append(
                f"{where}: '{meter}' is the standard clock; its factor is 1. Leave out."
            )
        elif read_factor(value) is None:
            problems.append(
                f"{where} = {show(value)}: must be a factor between 0.2 and 5, alone or as "
                "[factor, low, high] with low ≤ factor ≤ high."
            )


def _check_rule(rule: dict[str, Any], where: str, problems: list[str]) -> None:
    for k, v in rule.items():
        if k not in RULE_KEYS:
            problems.append(f"{where}.{k}: unknown key. {did_you_mean(k, RULE_KEYS)}")
        elif k == "confirmed" and not (isinstance(v, bool) or v == "unknown"):
            problems.append(f'{where}.confirmed = {show(v)}: must be true, false or "unknown".')
        elif k != "confirmed" and not isinstance(v, str):
            problems.append(f"{where}.{k} = {show(v)}: must be a text in quotation marks.")
        elif k == "ending" and v not in ENDINGS:
            problems.append(
                f"{where}.ending = {show(v)}: unknown ending. {did_you_mean(v, ENDINGS)}"
            )
        elif k == "counts_as" and v not in COUNTS_AS:
            problems.append(
                f"{where}.counts_as = {show(v)}: must be one of {', '.join(COUNTS_AS)}. "
                f"{did_you_mean(v, COUNTS_AS)}"
            )
    if "counts_as" not in rule:
        problems.append(f"{where}.counts_as: is missing. One of {', '.join(COUNTS_AS)}.")
    if not str(rule.get("reason", "")).strip():
        problems.append(f"{where}.reason: is missing. The report prints why the rule stands.")
    if not set(rule) & {"ending", "cause", "confirmed", "source", "build"}:
        problems.append(
            f"{where}: names no condition. Give ending, cause, confirmed, source or build."
        )


def _check_question(settings: Settings, problems: list[str]) -> None:
    q = settings.question
    if q.level in ("top-end", "accessory") and not q.causes:
        problems.append(
            f"question.causes: is empty. At level {show(q.level)} it must name the causes in "
            "question."
        )
    both = {fold(c) for c in q.causes} & {fold(c) for c in q.censoring_causes}
    problems += [
        f"question.causes: '{c}' is among the censoring causes too. It can be one of them only."
        for c in sorted(both)
    ]


def _check_groups(settings: Settings, problems: list[str]) -> None:
    g = settings.groups
    problems += [
        f"groups.by: unknown group '{name}'. {did_you_mean(name, GROUPS)}"
        for name in g.by
        if name not in GROUPS
    ]
    if len(g.margin) != 2 or not 0 < g.margin[0] < 1 < g.margin[1]:
        problems.append(
            f"groups.margin = {show(g.margin)}: must be two ratios about 1, such as [0.8, 1.25]."
        )
    ours = {f.name for f in LIFE_FIELDS}
    problems += [
        f"groups.covariates: '{name}' cannot be the name of a covariate."
        for name in g.covariates
        if name in ours or not name.strip()
    ]
    check_categories(settings.categories, (*ours, *g.covariates), problems)
    if len(set(g.covariates)) != len(g.covariates):
        problems.append("groups.covariates: a name stands twice.")
    shapes = settings.evidence.shapes
    if not shapes or len(shapes) > 20 or any(not 0.1 <= s <= 30 for s in shapes):
        problems.append(
            f"evidence.shapes = {show(shapes)}: must be 1 to 20 shapes between 0.1 and 30."
        )


def _check_portfolio(settings: Settings, problems: list[str]) -> None:
    fleet = settings.fleet
    if settings.portfolio.family and (fleet.built is not None or fleet.serials_file):
        problems.append(
            "portfolio.family: fleet.built and fleet.serials_file speak of one family. Leave them "
            "out where the files hold many."
        )


def _check_treat(settings: Settings, problems: list[str]) -> None:
    codes = [*(c for c in LIFE_FINDINGS if c not in FILE_FINDINGS), *LOG_FINDINGS]
    for code, action in settings.treat.actions.items():
        where = f"treat.{code}"
        if code in FILE_FINDINGS:
            problems.append(f"{where}: concerns a whole file and must be mended there.")
        elif code not in codes:
            near = did_you_mean(code, codes)
            problems.append(
                f"{where}: unknown kind of finding. "
                + (near if near.startswith("Did") else "The report of 'check' names them.")
            )
        elif action not in ACTIONS:
            problems.append(
                f"{where} = {show(action)}: must be one of {', '.join(ACTIONS)}. "
                f"{did_you_mean(str(action), ACTIONS)}"
            )
        elif action == "accept" and code in LIFE_FINDINGS and not LIFE_FINDINGS[code].may_accept:
            problems.append(
                f'{where} = "accept": such a row cannot be used as it stands; "stop" or '
                '"set-aside".'
            )


def _check_file(f: RecordKeys, where: str, settings: Settings, problems: list[str]) -> None:
    if f.shape == "lives":
        names = [
            *(x.name for x in LIFE_FIELDS),
            *settings.groups.covariates,
            *settings.categories.columns,
        ]
        problems += [
            f"{where}.columns.{ours}: unknown column of ours. {did_you_mean(ours, names)}"
            for ours in f.columns
            if ours not in names
        ]
    if f.shape == "log":
        # The reader of logs stands on the study that is checked here.
        from fleetstats.vocabulary.fields.log import LOG_FIELDS

        names = [*(x.name for x in LOG_FIELDS), *settings.categories.columns]
        problems += [
            f"{where}.columns.{ours}: unknown column of ours. {did_you_mean(ours, names)}"
            for ours in f.columns
            if ours not in names
        ]
    _check_history(f, where, settings, problems)
    for word, kind in f.kinds.items():
        if kind not in LOG_KINDS:
            problems.append(
                f'{where}.kinds."{word}" = {show(kind)}: unknown event of a log. '
                f"{did_you_mean(kind, LOG_KINDS)}"
            )
    for table in ("endings", "kinds", "causes", "renews"):
        _check_words(getattr(f, table), f"{where}.{table}", problems)
    theirs = [t.strip() for t in f.columns.values()]
    twice = sorted({t for t in theirs if theirs.count(t) > 1})
    problems += [f"{where}.columns: '{t}' is mapped to two columns of ours." for t in twice]
    for word, ending in f.endings.items():
        if ending not in ENDINGS:
            problems.append(
                f'{where}.endings."{word}" = {show(ending)}: unknown ending. '
                f"{did_you_mean(ending, ENDINGS)}"
            )
    if f.encoding:
        try:
            codecs.lookup(f.encoding)
            "".encode(f.encoding)
        except (LookupError, ValueError):
            problems.append(
                f"{where}.encoding = {show(f.encoding)}: no such encoding. Leave it out, and it "
                "is found."
            )
    meter = f.meter
    if meter and meter != settings.hours.meter and meter not in settings.hours.factors:
        problems.append(
            f"{where}.meter = {show(meter)}: hours.factors.{meter} is missing. Give the factor "
            f"that turns {meter} hours into {settings.hours.meter} hours, with its range."
        )


def _check_history(f: RecordKeys, where: str, settings: Settings, problems: list[str]) -> None:
    """Find columns and repairs of a history that are none."""
    if f.shape == "histories":
        names = [*(x.name for x in HISTORY_FIELDS), *settings.categories.columns]
        words = [*names, *KNOWN_WORDS]
        problems += [
            f"{where}.columns.{show(ours)}: unknown column of ours. {did_you_mean(ours, words)}"
            for ours in f.columns
            if ours not in names and read_head(ours) is None
        ]
    elif f.renews or f.after_meter_change:
        problems.append(f'{where}: renews and after_meter_change are for shape "histories" alone.')
    problems += [
        f"{where}.renews.{show(word)} = {show(renewed)}: must be one of {', '.join(RENEWED)}, or "
        "empty where it is open."
        for word, renewed in f.renews.items()
        if renewed and renewed not in RENEWED
    ]


def _check_words(table: dict[str, str], where: str, problems: list[str]) -> None:
    """Find two spellings of one word that are given two meanings."""
    first: dict[str, str] = {}
    for word, meaning in table.items():
        other = first.setdefault(fold(word), word)
        if table[other] != meaning:
            problems.append(
                f"{where}.{show(word)} = {show(meaning)}: is one word with {show(other)}, which "
                f"means {show(table[other])}. Give both one meaning, or leave one out."
            )
