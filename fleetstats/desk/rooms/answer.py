"""Answer: what the records say, worked out anew at whatever settings are tried."""

from __future__ import annotations

from typing import Any

from fleetstats.advice.advice import say_word
from fleetstats.chapters.calls import list_calls
from fleetstats.chapters.claim import Claim
from fleetstats.core.errors import DataError, FleetstatsError
from fleetstats.desk.answers import Tried, answer_at, base_at, builds_in_service, one_more
from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.words import words
from fleetstats.report.call_sheet import write_call_sheet
from fleetstats.studies.single import LightBase, plan_at
from fleetstats.study.edit import set_key
from fleetstats.study.scaffold import toml_text
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import STANDING_NOTICE

CALL_SHEET = "calls-to-make.xlsx"
"""The list of calls in the study's folder."""

TONES = {"supported": "supported", "contradicted": "against"}
"""Verdict's word: the tone of its mark, as in the report; else it is open."""


def show(place: DeskPlace, form: Sent) -> dict[str, Any]:
    """Return the answer at the settings tried, or why there is none."""
    now = place.reader.with_base()
    if now.base is None:
        stops = now.audit is not None and not now.audit.ok
        why = words("answer", "stopped") if stops else now.broken or now.stopped
        return {"answered": None, "why_not": why, "stops": stops, "notice": STANDING_NOTICE}
    s = now.base.settings
    out: dict[str, Any] = {
        "answered": None,
        "why_not": "",
        "stops": False,
        "builds": builds_in_service(now.base),
        "causes": _causes(now.base),
        "more": (),
        "notice": STANDING_NOTICE,
        "more_wrong": "",
        "plan": (),
        "calls": None,
        "evidence_wrong": "",
    }
    try:
        tried = tried_of(form)
        answered = answer_at(now.base, tried)
    except FleetstatsError as error:
        return out | {"why_not": str(error), "at": _fields(s), "tried": False}
    out |= {
        "answered": answered,
        "at": _fields(answered.settings),
        "tried": bool(_changed(tried, s)),
    }
    if answered.claim is not None:
        out["word"], out["face"] = said_of(answered.claim), tone_of(answered.claim)
        out["subsets"] = answered.claim.subsets
    if form.text("more"):
        try:
            told = one_more(now.base, form.text("build"), form.text("cause"), tried)
            out["more"] = [(m, said_of(m.claim)) for m in told]
        except FleetstatsError as error:
            out["more_wrong"] = str(error)
    return out | _evidence(now.base, tried, form.text("evidence"))


def _evidence(base: LightBase, tried: Tried, asked: str) -> dict[str, Any]:
    """Return what further evidence would show, where it is asked: a plan, or whom to call."""
    try:
        if asked == "plan":
            return {"plan": str(plan_at(base_at(base, tried))).splitlines()}
        if asked == "calls":
            return {"calls": list_calls(base_at(base, tried))}
    except FleetstatsError as error:
        return {"evidence_wrong": str(error)}
    return {}


def sheet(place: DeskPlace, form: Sent) -> str:
    """Write the list of calls into the folder, with boxes for the answers."""
    now = place.reader.with_base()
    if now.base is None:
        raise DataError(words("answer", "none"))
    path = place.desk.folder / CALL_SHEET
    if path.is_symlink():
        raise DataError(words("frame", "no_plain_file", name=CALL_SHEET))
    write_call_sheet(list_calls(base_at(now.base, tried_of(form))), path)
    return words("answer", "sheet_written", name=CALL_SHEET)


def said_of(claim: Claim) -> str:
    """Return a verdict's word as the face of a report has it, with what is open about it."""
    return capital(say_word(claim.state, extrapolated=claim.extrapolated, provisos=claim.provisos))


def tone_of(claim: Claim) -> str:
    """Return the tone of a verdict's mark."""
    return TONES.get(claim.state, "open")


def tried_of(form: Sent) -> Tried:
    """Return what is tried; percentages on the page are shares within.

    Raises
    ------
    DataError
        If a number is no number, or no share.
    """
    tried = Tried(
        hours=form.number("hours"),
        confidence=form.number("confidence", over=100.0),
        accepted=form.number("accepted", over=100.0),
        check_h=form.number("check"),
    )
    for told in (tried.confidence, tried.accepted):
        if told is not None and not 0.0 < told < 1.0:
            raise DataError(words("answer", "no_share"))
    for told in (tried.hours, tried.check_h):
        if told is not None and not told > 0.0:
            raise DataError(words("answer", "no_hours"))
    return tried


def keep(place: DeskPlace, form: Sent) -> str:
    """Write what is tried into the study file, where it differs from what stands there."""
    now = place.reader.stand()
    tried = tried_of(form)
    if now.study is None:
        raise DataError(words("frame", "no_such_form"))
    s = now.study.settings
    changed = _changed(tried, s)
    if not changed:
        return words("answer", "nothing_changed")

    def change(text: str) -> str:
        for path, v in changed.items():
            text = set_key(text, path, int(v) if v == int(v) else v)
        return text

    said = "; ".join(
        f"[{t}] {k} = {toml_text(int(v) if v == int(v) else v)}" for (t, k), v in changed.items()
    )
    place.desk.edit(form.version, f"study.toml: {said}", change)
    return words("answer", "kept")


ACTS = {"keep": keep, "sheet": sheet}


def _changed(tried: Tried, settings: Any) -> dict[tuple[str, str], float]:
    """Return what is tried and differs from what the study has."""
    return {(t, k): v for (t, k), v in tried.keys.items() if not _holds(settings, t, k, v)}


def _holds(settings: Any, table: str, key: str, told: float) -> bool:
    held = getattr(getattr(settings, table), key)
    if held is None and key == "accepted_failure_at_claim":
        held = 1.0 - settings.targets.reliability
    return held is not None and abs(held - told) < 1e-9


def _fields(settings: Any) -> dict[str, str]:
    """Return what the fields of the form show: the settings that hold."""
    accepted = settings.targets.accepted_failure_at_claim
    if accepted is None:
        accepted = 1.0 - settings.targets.reliability
    hours = settings.study.claimed_interval_h
    return {
        "hours": "" if hours is None else f"{hours:.10g}",
        "confidence": f"{100 * settings.study.confidence:.10g}",
        "accepted": f"{100 * accepted:.10g}",
        "check": f"{settings.check.interval_h:.10g}",
    }


def _causes(base: Any) -> tuple[str, ...]:
    return tuple(sorted({x.cause for x in base.audit.used if x.cause}))
