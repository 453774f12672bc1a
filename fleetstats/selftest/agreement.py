"""The selftest: each figure here beside the one printed in its source or computed elsewhere."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from functools import cache
from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.selftest.cases import case, expected, source, tolerance
from fleetstats.selftest.figures import CASES, figures_of, held_to_computed

COMPUTED = "computed elsewhere"
DIGITS = 8
"""Figures computed elsewhere are shown with so many digits."""

COLUMNS = ("case", "tries", "source", "quantity", "reference", "told", "here", "agrees")


@value
class Agreement(Value):
    """One figure of one case.

    Parameters
    ----------
    case, tries, quantity : str
        Name of the case, what of the package it tries, and which figure.
    source : str
        Where the data come from.
    reference : str
        The figure to agree with: as its source prints it, or with eight digits.
    told : str
        How it is known: "printed" (read there, second hand, or from memory), or computed
        elsewhere, in R and by likelihoods written out at 40 digits.
    here : str
        The figure of this package on this machine, to as many digits.
    agrees : bool
        Printed: equal to half a unit of its last digit. Computed: within the tolerance that the
        case states.
    """

    case: str
    tries: str
    source: str
    quantity: str
    reference: str
    told: str
    here: str
    agrees: bool


@value
class Selftest(Value):
    """All figures of the selftest."""

    rows: tuple[Agreement, ...]

    @property
    def n_agree(self) -> int:
        """Return how many agree."""
        return sum(r.agrees for r in self.rows)

    @property
    def good(self) -> bool:
        """Return whether all agree, and there are some."""
        return bool(self.rows) and self.n_agree == len(self.rows)

    @property
    def sentence(self) -> str:
        """Return the outcome as a sentence."""
        printed = sum(r.told != COMPUTED for r in self.rows)
        return (
            f"{self.n_agree} of {len(self.rows)} figures of {len({r.case for r in self.rows})} "
            f"cases agree; {printed} are held against what a source prints, the others against "
            "values computed elsewhere."
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the table as JSON-ready values, with the outcome."""
        told = {"n_agree": self.n_agree, "good": self.good, "sentence": self.sentence}
        return Value.to_dict(self) | told

    def to_csv(self) -> str:
        """Return the table as CSV."""
        out = io.StringIO()
        write = csv.writer(out, lineterminator="\n")
        write.writerow(COLUMNS)
        for r in self.rows:
            cells = [getattr(r, c) for c in COLUMNS[:-1]]
            write.writerow([*cells, "yes" if r.agrees else "no"])
        return out.getvalue()

    def __repr__(self) -> str:
        lines = []
        name = ""
        for r in self.rows:
            if r.case != name:
                name = r.case
                lines += ["", f"{r.tries}: {name}", f"  {r.source}"]
            mark = "" if r.agrees else "  DOES NOT AGREE"
            lines.append(f"    {r.quantity:<42} {r.reference:>13} {r.here:>13}  {r.told}{mark}")
        head = f"    {'quantity':<42} {'reference':>13} {'here':>13}  reference is"
        return "\n".join([head, *lines, "", self.sentence])


@cache
def run_selftest() -> Selftest:
    """Work out every case here, and hold it against its source.

    Returns
    -------
    Selftest
        The same for the same package and libraries, so it is worked out once in a process.

    Notes
    -----
    Cases and their sources stand in ``data/`` beside this file: NIST/SEMATECH e-Handbook,
    MIL-HDBK-189, Nelson (1982), Meeker & Escobar (1998), O'Connor (1985), Finkelstein & Wolfe
    (1985), Nelson & Doganaksoy (1989), Crow (1974), Cox (1972), Clopper & Pearson (1934), Garwood
    (1936), Barlow & Proschan (1965); two tables are simulated and frozen there.

    Examples
    --------
    >>> from fleetstats.selftest import run_selftest
    >>> run_selftest().good
    True
    """
    return Selftest(rows=tuple(row for name in CASES for row in _rows(name)))


def _rows(name: str) -> Iterator[Agreement]:
    printed = case(name).get("printed") or {"how": "", "values": {}}
    want = expected(name)
    here = figures_of(name)
    for quantity, text in printed["values"].items():
        decimals = len(text.partition(".")[2])
        off = abs(here[quantity] - float(text))
        yield _row(
            name, quantity, text, f"printed, {printed['how']}", f"{here[quantity]:.{decimals}f}",
            off <= 0.5 * 10.0**-decimals,
        )  # fmt: skip
    for quantity, x in here.items():
        if quantity in want and held_to_computed(name, quantity):
            bound = max(tolerance(name) * abs(want[quantity]), 1e-9)
            yield _row(
                name, quantity, f"{want[quantity]:.{DIGITS}g}", COMPUTED, f"{x:.{DIGITS}g}",
                abs(x - want[quantity]) <= bound,
            )  # fmt: skip


def _row(name: str, quantity: str, reference: str, told: str, here: str, agrees: bool) -> Agreement:
    return Agreement(
        case=name, tries=CASES[name][0], source=source(name), quantity=quantity,
        reference=reference, told=told, here=here, agrees=bool(agrees),
    )  # fmt: skip
