"""Odd cells: what the audit found, by kind, each in its row, and what is done about it."""

from __future__ import annotations

from typing import Any

from fleetstats.core.errors import DataError, ReadError
from fleetstats.desk.odd_cells import (
    FAILED,
    MOST_ROWS,
    actions_for,
    odd_kinds,
    open_cells,
    say_decision,
)
from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.standing import Standing
from fleetstats.desk.words import words, words_of
from fleetstats.records.mending.take import GIVE, SET_ASIDE, TAKE, Decision, take_held
from fleetstats.study.edit import set_key, unset_key
from fleetstats.study.scaffold import toml_text
from fleetstats.vocabulary.findings import FINDINGS

ASIDE_REASONS = ("told_twice", "no_engine", "nobody_knows", "not_ours")
"""Keys of the words that say why a row is set aside, without typing."""

ANSWERS = ("take", "give", "aside", "failed", "not_failed")


def show(place: DeskPlace, form: Sent) -> dict[str, Any]:
    """Return the kinds of findings, the worst first, the mends, and the account of rows."""
    now = place.reader.with_proposals()
    told = words_of("odd")
    shown: dict[str, Any] = {
        "kinds": [], "account": "", "stops": 0, "mends": (),
        "role": _role(place),
        "most_rows": MOST_ROWS,
        "open_cells": (),
        "n_open_rows": 0,
        "reasons": [told[f"why_{key}"] for key in ASIDE_REASONS],
    }  # fmt: skip
    if now.audit is None or now.study is None:
        return shown
    cells, n_open = open_cells(now)
    first = int(form.text("from")) if form.text("from").isdecimal() else 0
    return shown | {
        "kinds": odd_kinds(now, form.text("of"), first),
        "account": now.audit.summary(),
        "stops": len(now.audit.stops),
        "mends": _mends(now),
        "open_cells": cells,
        "n_open_rows": n_open,
    }


def _mends(now: Standing) -> tuple[Any, ...]:
    from fleetstats.records.mends.log import read_mends

    try:
        return () if now.study is None else read_mends(now.study).mends
    except ReadError:  # the audit says so
        return ()


def treat(place: DeskPlace, form: Sent) -> str:
    """Say what is done about a kind of finding, and why; blank takes the study's say back."""
    code, action = form.text("code"), form.text("action")
    path = ("treat", code)
    if code not in FINDINGS or (action and action not in actions_for(code)):
        raise DataError(words("frame", "no_such_form"))
    if not action:
        said = f"study.toml: [treat] {code}: {words('frame', 'taken_out')}"
        place.desk.edit(form.version, said, lambda t: unset_key(t, path))
        return words("odd", "taken_back", code=code)
    why = _why(form)
    if action == "set-aside" and not why:
        raise DataError(words("odd", "say_why"))
    said = f"study.toml: [treat] {code} = {toml_text(action)}{f'  # {why}' if why else ''}"
    place.desk.edit(form.version, said, lambda t: set_key(t, path, action, comment=why))
    return words("odd", "treated", code=code, action=words("odd", f"done_{action}"))


def mend(place: DeskPlace, form: Sent) -> str:
    """Decide about one cell: take what is proposed, give another value, or set its row aside."""
    answer = form.text("answer")
    if answer not in ANSWERS:
        raise DataError(words("frame", "no_such_form"))
    column, new, why = form.text("column"), "", _why(form)
    if answer == "take":
        new, why = form.text("proposed"), why or words("odd", "why_take")
    elif answer == "give":
        new, why = form.text("new").strip(), why or words("odd", "why_give")
    elif answer == "failed":
        column, new = form.text("failed_in"), FAILED
        why = why or words("odd", "why_failed")
    elif answer == "not_failed":
        column, new = form.text("confirmed_in"), "no"
        why = why or words("odd", "why_not_failed")
    act = {"take": TAKE, "aside": SET_ASIDE}.get(answer, GIVE)
    return _decide(place, form, [
        Decision(
            file=form.text("file"), sheet=form.text("sheet"), row=form.whole("row"),
            column="" if act == SET_ASIDE else column, act=act, new=new, why=why,
            by=_role(place), digest=form.text("digest"),
        )
    ])  # fmt: skip


def take_all(place: DeskPlace, form: Sent) -> str:
    """Take every value that is proposed for one kind of finding."""
    now = place.reader.with_proposals()
    why = _why(form) or words("odd", "why_take")
    return _decide(place, form, [
        Decision(file=p.file, sheet=p.sheet, row=p.row, column=p.column, act=TAKE,
                 new=p.proposed, why=why, by=_role(place), digest=p.digest)
        for p in now.proposals or () if p.code == form.text("code") and p.proposed
    ])  # fmt: skip


def untake(place: DeskPlace, form: Sent) -> str:
    """Take one line of the mends back."""
    from fleetstats.records.mends.log import remove_held

    now, number = place.reader.stand(), form.whole("number")
    study = now.study
    if study is None:
        raise DataError(words("frame", "no_such_form"))
    said = words("odd", "mend_back", number=number)
    place.desk.mend(form.version, f"mends.csv: {said}", lambda: remove_held(study, number))
    return said


def role(place: DeskPlace, form: Sent) -> str:
    """Say in which role the next decisions are made."""
    place.desk.role = " ".join(form.text("role").split())[:80]
    return words("odd", "role_set", role=_role(place))


def _decide(place: DeskPlace, form: Sent, decisions: list[Decision]) -> str:
    """Write decisions into the study's mends, by the prompt's own rule."""
    now = place.reader.with_proposals()
    study = now.study
    if study is None or not decisions:
        raise DataError(words("frame", "no_such_form"))
    said = say_decision(decisions[0])
    if len(decisions) > 1:
        said = words("odd", "and_more", said=said, n=len(decisions) - 1)
    place.desk.mend(form.version, said, lambda: take_held(study, decisions, supplied=now.supplied))
    return words("odd", "mended", n=len(decisions)) if len(decisions) > 1 else said


def _why(form: Sent) -> str:
    """Return the reason that was given: in words of one's own, or else the one chosen."""
    return " ".join((form.text("why").strip() or form.text("reason")).split())[:300]


def _role(place: DeskPlace) -> str:
    return place.desk.role or words("odd", "role_default")


ACTS = {"treat": treat, "mend": mend, "take": take_all, "untake": untake, "role": role}
