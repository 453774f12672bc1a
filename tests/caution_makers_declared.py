"""Makers of cautions on what was declared; see `caution_makers`."""

from __future__ import annotations

from collections.abc import Iterable

from caution_makers import maker

from fleetstats.chapters.declared import compute
from fleetstats.chapters.declared.values import (
    DeclaredChange,
    DeclaredQuestion,
    ToldDeclaration,
)
from fleetstats.vocabulary.caution import Caution


def told(*, turns: bool = False, lost: bool = False) -> DeclaredQuestion:
    """Return a question of which one setting is changed, after one version at four looks."""
    one = ToldDeclaration(
        number=1, declared="2026-01-05", looks=4, looks_at_these=0, changed=0, digest="d"
    )
    change = DeclaredChange(
        key="targets.reliability", was="0.95", now="0.9", since="not declared anew", turns=turns
    )
    return DeclaredQuestion(
        versions=(one,), held=1, on=one.declared, late=0, lay_there=(), ledger_lost=lost,
        changes=(change,),
    )  # fmt: skip


@maker("declared-changed")
def _(over: bool) -> Iterable[Caution]:
    return compute.caution_changed(told(turns=over))


@maker("declared-looks-lost")
def _(over: bool) -> Iterable[Caution]:
    return compute.caution_lost(told(lost=over))
