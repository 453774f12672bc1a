"""Whether sheets that name the same engines are to be merged: what several senders tell of one."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import Final

from fleetstats.records.guess.guess import LIKELY, OPEN, Guess
from fleetstats.records.guess.sheet import ReadSheet
from fleetstats.vocabulary.ids import id_order
from fleetstats.vocabulary.wording import count, listed

TELLING: Final = ("lives", "log", "histories")
"""Shapes that tell how engines end; a check or a reading is of an engine that they tell of."""

SHORT: Final = re.compile(r"[0-9]{1,3}")
"""Ids that two senders may each have given to an engine of their own; common practice, no source.
"""

NAMED: Final = 5


def guess_returns(read: Sequence[ReadSheet]) -> list[Guess]:
    """Return the guess on ``[merge] returns`` where sheets share engines; none where they do not.

    It is left open where merging could hide a failure: where engines fail in more than one sheet
    under numbers so short that they may be two engines, since two failures at about the same hours
    would become one.
    """
    sheets = [r for r in read if r.sheet.shape.value in TELLING]
    told = Counter(e for r in sheets for e in r.engines)
    shared = {e for e, n in told.items() if n > 1}
    if not shared:
        return []
    places = [r.sheet.place for r in sheets if r.engines & shared]
    where = listed(places) if len(places) <= NAMED else count(len(places), "sheet")
    reason = f"{count(len(shared), 'engine')} stand{'s' * (len(shared) == 1)} in more than one of "
    reason += f"{where}"
    ill = Counter(e for r in sheets for e in r.troubled & shared)
    doubtful = sorted((e for e, n in ill.items() if n > 1 and SHORT.fullmatch(e)), key=id_order)
    if not doubtful:
        return [Guess(what="merge.returns", value="true", sure=LIKELY, reason=reason,
                      n_rows=len(shared),
                      effect="what they tell of one engine becomes one life")]  # fmt: skip
    more = len(doubtful) - NAMED
    names = [*doubtful[:NAMED], *([f"{more} more"] if more > 0 else [])]
    return [
        Guess(
            what="merge.returns", value="", sure=OPEN, alternatives=("true", "false"),
            n_rows=len(shared), effect="the study stops here",
            reason=f"{reason}, several with a failure of {listed(names)}: "
            "one engine each (true), or do senders number their own (false)?",
        )
    ]  # fmt: skip
