"""The chains that a bundle carries, each held against itself: declarations, and looks made."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fleetstats.core.errors import FleetstatsError
from fleetstats.study.declared import DECLARED_FILE, declared_in
from fleetstats.study.history import FOUND_EARLIER, HISTORY_FILE, ledger_in


def flaws_of_chains(members: Mapping[str, bytes]) -> Iterator[str]:
    """Yield where a chain in the bundle is broken, with its file and the version or look.

    What a ledger itself tells of earlier flaws is no flaw of the bundle: the report tells it too.
    """
    declared = members.get(f"study/{DECLARED_FILE}")
    if declared is not None:
        try:
            declared_in(declared)
        except FleetstatsError as error:
            yield f"In the bundle's study, {error.message}"
    looks = members.get(f"study/{HISTORY_FILE}")
    if looks is not None:
        for flaw in ledger_in(looks).flaws:
            if not flaw.startswith(FOUND_EARLIER):
                yield f"In the bundle's study, {HISTORY_FILE}: {flaw}"
