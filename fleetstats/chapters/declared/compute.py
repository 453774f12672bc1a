"""From the chain of declarations and a study as it stands to what was changed between."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from fleetstats.chapters.declared.values import DeclaredChange, DeclaredQuestion, ToldDeclaration
from fleetstats.chapters.declared.words import (
    LONGEST,
    say_change,
    say_declared,
    say_first,
    value_text,
)
from fleetstats.document.cells import plain_text
from fleetstats.study.declared.chain import Declaration
from fleetstats.study.declared.content import (
    SERIALS,
    Declarable,
    can_turn,
    declarable_of,
    declared_leaves,
)
from fleetstats.study.history import Ledger
from fleetstats.study.history.look import canonical
from fleetstats.study.study import Study
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import count, listed

MOST_TOLD = 2
"""Changes that a caution and a first page tell; the chapter tells all."""


def find_declared(
    versions: Sequence[Declaration],
    study: Study,
    ledger: Ledger,
    files: Mapping[str, str],
    n_serials: int,
) -> DeclaredQuestion:
    """Return what was declared and what is otherwise now.

    Parameters
    ----------
    versions : sequence of Declaration
        At least one.
    study : Study
        As it stands.
    ledger : Ledger
        The looks in its folder.
    files : mapping
        SHA-256 of its record files by name.
    n_serials : int
        Serials on its list.
    """
    early = [v for v in versions if not v.looks_at_these]
    held = early[-1] if early else versions[0]
    changes = tuple(
        sorted(_changes(held, versions, study, n_serials), key=lambda c: (not c.turns, c.key))
    )
    out = DeclaredQuestion(
        versions=tuple(
            ToldDeclaration(
                number=v.number, declared=v.declared, looks=v.looks,
                looks_at_these=v.looks_at_these, digest=v.digest,
                changed=0 if was is None else len(_keys(was.content, v.content)),
            )
            for was, v in zip([None, *versions], versions, strict=False)
        ),
        held=held.number,
        on=held.declared,
        late=held.looks_at_these,
        lay_there=tuple(n for n, x in held.records.items() if x and x in files.values()),
        ledger_lost=any(v.looks and ledger.digests.get(v.looks) != v.last_look for v in versions),
        changes=changes,
    )  # fmt: skip
    first = say_first(out)
    return replace(
        out,
        sentences=say_declared(out),
        prompt_lines=(first,),
        identity=f"{versions[-1].digest} {out.ledger_lost}",
        cautions=(*caution_changed(out), *caution_lost(out)),
    )


def caution_changed(told: DeclaredQuestion) -> tuple[Caution, ...]:
    """Return the caution that what can turn the verdict is not as it was declared."""
    turning = told.turning
    if not turning:
        return ()
    n = count(len(turning), "setting")
    said = [say_change(c) for c in turning[:MOST_TOLD]]
    if len(turning) > MOST_TOLD:
        said.append(f"{count(len(turning) - MOST_TOLD, 'other')}")
    return (
        caution(
            "declared-changed",
            value=n,
            limit="0 settings",
            n=n,
            is_are="is" if len(turning) == 1 else "are",
            date=told.on,
            what=listed(said),
        ),
    )


def caution_lost(told: DeclaredQuestion) -> tuple[Caution, ...]:
    """Return the caution that the ledger does not hold the looks that it held then."""
    if not told.ledger_lost:
        return ()
    n = max(v.looks for v in told.versions)
    return (
        caution(
            "declared-looks-lost",
            value=f"not all of {count(n, 'look')}",
            limit=count(n, "look"),
            n=count(n, "look"),
        ),
    )


def _keys(was: Declarable, now: Declarable) -> list[str]:
    """Return the keys under which two declarations differ."""
    keys = dict.fromkeys([*was.settings, *now.settings])
    out = [k for k in keys if canonical(was.settings.get(k)) != canonical(now.settings.get(k))]
    same = (was.serials.get("sha256"), was.serials.get("count"))
    return [*out, *([SERIALS] if same != (now.serials.get("sha256"), now.serials.get("count"))
                    else [])]  # fmt: skip


def _changes(
    held: Declaration, versions: Sequence[Declaration], study: Study, n_serials: int
) -> list[DeclaredChange]:
    leaves = {x.key: x for x in declared_leaves(study)}
    now = declarable_of(study, n_serials)
    out = []
    for key in _keys(held.content, now):
        leaf = leaves.get(key)
        if key not in held.settings and key != SERIALS and leaf and not leaf.departs:
            continue  # a setting that was not there when it was declared, and that changes nothing
        was_is = _value(held.content, key), _value(now, key)
        out.append(
            DeclaredChange(
                key=plain_text(key)[:LONGEST],
                was=value_text(was_is[0]),
                now=value_text(was_is[1]),
                since=_since(key, held, versions),
                turns=can_turn(key, *was_is),
                doc="" if leaf is None else leaf.doc,
            )
        )
    return out


def _value(declared: Declarable, key: str) -> Any:
    if key == SERIALS:
        s = declared.serials
        return f"{count(s['count'], 'serial')} ({s['sha256'][:8]}…)" if s else None
    return declared.settings.get(key)


def _since(key: str, held: Declaration, versions: Sequence[Declaration]) -> str:
    """Say where a change was declared anew; the last version that changed the key counts."""
    last, said = held, ""
    for v in versions[held.number :]:
        if key in _keys(last.content, v.content):
            looks = f", after {count(v.looks_at_these, 'look')}" if v.looks_at_these else ""
            said = f"declared anew on {v.declared}{looks}"
        last = v
    return said or "not declared anew"
