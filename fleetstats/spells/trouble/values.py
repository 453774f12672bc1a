"""The ledger of trouble as values: its rows, its places, its sums."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.wording import count, listed

if TYPE_CHECKING:
    import pandas as pd

PLACES = {
    "failure": "failure in question",
    "other": "failure from another cause",
    "finding": "finding",
    "censored": "censored by its cause, or not confirmed",
    "excluded": "taken out by a rule",
    "over": "before the date from which records count",
    "set-aside": "set aside",
    "merged": "merged into another row",
    "not-counted": "not counted",
}
"""Where a row that hints at trouble can have gone, in words; each row is in one place."""

_COUNTED = {
    "failure": "as failures in question",
    "other": "as failures from other causes",
    "finding": "as findings",
    "censored": "censored by cause or as not confirmed",
    "excluded": "taken out by a rule",
    "over": "before the date from which records count",
    "set-aside": "set aside",
    "merged": "merged into another row",
    "not-counted": "not counted",
}


@value
class TroubleRow(Value):
    """One row that hints at trouble.

    Parameters
    ----------
    file, row, sheet : str, int, str
        Where it stands.
    engine, source : str
        As written.
    columns, words : tuple of str
        The cells that hint, each with the head of its column.
    meaning : str
        What the words were taken to mean.
    place : str
        A key of `PLACES`.
    into : str
        For a row merged into another: that row.
    hours : float or None
        Hours of the end that it was counted with, or that it tells of, on the study's clock and
        life basis; None where not known.
    count : int
        Engines that the row stands for.
    """

    file: str
    row: int
    sheet: str = ""
    engine: str = ""
    source: str = ""
    columns: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    meaning: str = ""
    place: str = "not-counted"
    into: str = ""
    hours: float | None = None
    count: int = 1


@value
class Trouble(Value):
    """Every row that hints at trouble, and where each was counted.

    Parameters
    ----------
    rows : tuple of TroubleRow
        In the order of the files; of a table read by chunks the first few of each place.
    places : dict
        Rows by place; their sum is `n`.
    """

    rows: tuple[TroubleRow, ...] = ()
    places: dict[str, int] | None = None

    @property
    def counts(self) -> dict[str, int]:
        """Return how many rows went to each place, in the order of `PLACES`, none left out."""
        told = Counter(r.place for r in self.rows) if self.places is None else self.places
        return {p: told.get(p, 0) for p in PLACES}

    @property
    def n(self) -> int:
        """Return how many rows hint at trouble."""
        return sum(self.counts.values())

    def _members(self) -> dict[str, Any]:
        """Return what the ledger's dictionary holds: its sums, and its rows."""
        out = {"schema": "fleetstats/trouble/1", "n": self.n, "counts": self.counts}
        return out | {"rows": self.rows}

    @property
    def sentence(self) -> str:
        """Return on one line how many rows hint at a failure, and where they went."""
        n = self.n
        if not n:
            return "No row of the records hints at a failure."
        parts = [f"{k:,} {_COUNTED[p]}" for p, k in self.counts.items() if k]
        if " as " in parts[0]:  # said once for all that are counted
            parts[0] = parts[0].replace(" as ", " counted as ", 1)
        hint = "hints" if n == 1 else "hint"
        return f"{count(n, 'row')} {hint} at a failure: {listed(parts)}."

    def to_frame(self) -> pd.DataFrame:
        """Return the ledger as a table, one row each."""
        import pandas as pd

        told = [r.to_dict() for r in self.rows]
        for t in told:
            t.pop("schema")
            t["columns"], t["words"] = "; ".join(t["columns"]), "; ".join(t["words"])
            t["place"] = PLACES[t["place"]]
        names = list(TroubleRow.__dataclass_fields__)
        return pd.DataFrame(told, columns=names)

    def __repr__(self) -> str:
        return f"Trouble: {self.sentence}"
