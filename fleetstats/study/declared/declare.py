"""A version added to the chain: whole or not at all, and nothing that stands there is changed."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

from fleetstats.core.errors import SettingError
from fleetstats.core.files import alone_in, write_whole
from fleetstats.core.provenance import digest_file
from fleetstats.core.value import Value, value
from fleetstats.study.declared.chain import (
    DECLARED_FILE,
    Declaration,
    digest_of,
    read_declared,
    text_of,
)
from fleetstats.study.declared.content import CUT_OFF, declarable_of
from fleetstats.study.history import Ledger, read_history
from fleetstats.study.study import Study
from fleetstats.vocabulary.wording import count


@value
class Declared(Value):
    """What became of a declaration.

    Parameters
    ----------
    state : {"written", "again"}
        ``"again"``: the last version declares the same, so none was added.
    version : Declaration
        The last version.
    """

    state: str
    version: Declaration

    @property
    def sentence(self) -> str:
        """Say it in words."""
        v = self.version
        if self.state == "again":
            return f"Nothing was changed since version {v.number}, declared on {v.declared}."
        had = [
            f"{count(v.looks_at_these, 'look')} at these records" if v.looks_at_these else "",
            f"{count(len(v.records), 'record file')} in the folder" if v.records else "",
        ]
        held = " and ".join(x for x in had if x)
        after = f", with {held} already" if held else ", before any record"
        return f"Version {v.number} declared on {v.declared}{after}."


def declare_study(study: Study, on: dt.date, *, n_serials: int = 0) -> Declared:
    """Write down what a study declares as it stands, below all that it declared before.

    Parameters
    ----------
    study : Study
        Read with ``drawn=False``: its records need not be there.
    on : date
        The day.
    n_serials : int
        Serials on its list, each once.

    Raises
    ------
    SettingError
        If the chain is broken, the day lies before that of the last version, or the folder cannot
        be written to. Nothing is then changed.
    """
    path = study.folder / DECLARED_FILE
    with alone_in(study.folder):
        earlier = read_declared(study.folder)
        now = declarable_of(study, n_serials)
        if earlier and earlier[-1].content.is_again(now):
            return Declared(state="again", version=earlier[-1])
        if earlier and on.isoformat() < earlier[-1].declared:
            raise SettingError(
                f"Version {earlier[-1].number} was declared on {earlier[-1].declared}, after {on}.",
                "A later version cannot be older; check the date.",
            )
        ledger = read_history(study.folder)
        last = max(ledger.looks, key=lambda x: x.number, default=None)
        version = Declaration(
            number=len(earlier) + 1,
            before=earlier[-1].digest if earlier else "",
            declared=on.isoformat(),
            looks=0 if last is None else last.number,
            looks_at_these=_at_these(ledger, [*(v.settings for v in earlier), now.settings]),
            last_look="" if last is None else ledger.digests[last.number],
            records={f.file: digest_file(f.path) for f in study.files if f.path.is_file()},
            settings=now.settings,
            serials=now.serials,
        )
        version = replace(version, digest=digest_of(version))
        try:
            write_whole(path, text_of([*earlier, version]))
        except OSError as error:
            raise SettingError(
                f"'{path.name}' cannot be written ({error.strerror or error}).",
                "The study's folder must be one that you may write to.",
            ) from None
    return Declared(state="written", version=version)


def _at_these(ledger: Ledger, declared: list[dict[str, Any]]) -> int:
    """Return how many looks saw records up to the earliest date declared, or later."""
    first = min(str(x.get(CUT_OFF) or "") for x in declared)
    return sum(not x.date or x.date >= first for x in ledger.looks)
