"""Many families, ranked: which got worse, which claims the records contradict.

The rule of the ranking: first the families called worse than the year before, the surest first;
then by how far the claim is from shown (contradicted, not yet shown, hours do not tell,
supported); then by plan-from, the earliest first. Families without an answer stand apart.

A family is called worse when its chance of so many failures in the last year, were nothing changed,
stays within the share of false alarms accepted among all families that could be compared (Benjamini
& Hochberg 1995). Families without a dated failure in either year say nothing either way and are not
among those compared.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from fleetstats.core.crew import Crew, do_work
from fleetstats.core.value import Value, value
from fleetstats.portfolio.family import FamilyRow, advise_family, lose_family
from fleetstats.records.split_families import Family, FamilyList
from fleetstats.survival.groups.rate_ratio import false_discovery
from fleetstats.vocabulary.wording import count, listed

VERDICT_ORDER = ("contradicted", "not-yet-shown", "hours-do-not-tell", "supported", "")


@value
class Ranked(Value):
    """A family in its place.

    Parameters
    ----------
    rank : int
        From 1; 0 for a family without an answer.
    row : FamilyRow
    q_worse, q_worse_at_age : float or None
        Smallest share of false alarms at which it would be called worse than the year before; None
        where it could not be compared.
    worse, worse_at_age : bool
        Whether it is called so at the share accepted.
    q_risen : float or None
        The same for the last year against all years before it, at equal age.
    risen : bool
        Whether it is called so.
    """

    rank: int
    row: FamilyRow
    q_worse: float | None
    q_worse_at_age: float | None
    worse: bool
    worse_at_age: bool
    q_risen: float | None = None
    risen: bool = False


@value
class Portfolio(Value):
    """All families of a portfolio.

    Parameters
    ----------
    title : str
    ranked : tuple of Ranked
        Answered families in order, then those without an answer.
    share : float
        Share of false alarms accepted.
    n_compared : int
        Families whose two years could be compared.
    n_read, n_unnamed : int
        Rows of the table, and those that name no family; 0 for a folder of studies.
    sentences : tuple of str
        The answer in a few sentences.
    """

    title: str
    ranked: tuple[Ranked, ...]
    share: float
    n_compared: int
    n_read: int
    n_unnamed: int
    sentences: tuple[str, ...]

    @property
    def without_answer(self) -> tuple[FamilyRow, ...]:
        """Return the rows of families that were stopped or failed."""
        return tuple(r.row for r in self.ranked if not r.row.done)

    def __repr__(self) -> str:
        return "\n".join(self.sentences)


def _none(_: object) -> None:
    return


def run_portfolio(
    families: FamilyList,
    *,
    crew: Crew | None = None,
    kept: Mapping[str, FamilyRow] | None = None,
    keep: Callable[[FamilyRow], None] = _none,
    told: Callable[[int], None] = _none,
    share: float = 0.10,
) -> Portfolio:
    """Advise on every family and rank them.

    Parameters
    ----------
    families : FamilyList
        As `read_portfolio` gives them.
    crew : Crew, optional
        Who does the work; results do not depend on it.
    kept : mapping, optional
        Rows of an earlier run by digest; a family whose digest is among them is not done again.
    keep : callable
        Given each row as it is done.
    told : callable
        Told how many families are done.
    share : float
        Share of false alarms accepted among families called worse.
    """
    rows: dict[str, FamilyRow] = {}
    left: list[Family] = []
    for f in families.families:
        row = (kept or {}).get(f.digest) if f.digest else None
        if row is not None and row.slug == f.slug and row.family == f.name:
            rows[f.slug] = row
        else:
            left.append(f)
    told(len(rows))
    for _, row in do_work(advise_family, left, crew, on_lost=lose_family):
        rows[row.slug] = row
        keep(row)
        told(len(rows))
    return rank_families(families, [rows[f.slug] for f in families.families], share=share)


def rank_families(families: FamilyList, rows: list[FamilyRow], *, share: float = 0.10) -> Portfolio:
    """Rank rows by the rule at the head of this file."""
    q, q_age = _q_values(rows, "p_worse"), _q_values(rows, "p_worse_at_age")
    q_risen = _q_values(rows, "p_risen")
    items = [
        Ranked(
            rank=0, row=row, q_worse=a, q_worse_at_age=b,
            worse=a is not None and a <= share,
            worse_at_age=b is not None and b <= share,
            q_risen=c, risen=c is not None and c <= share,
        )
        for row, a, b, c in zip(rows, q, q_age, q_risen, strict=True)
    ]  # fmt: skip
    items.sort(key=_place)
    n_done = sum(r.row.done for r in items)
    ranked = tuple(replace(r, rank=i) if r.row.done else r for i, r in enumerate(items, start=1))
    n_compared = sum(x is not None for x in q)
    return Portfolio(
        title=families.title,
        ranked=ranked,
        share=share,
        n_compared=n_compared,
        n_read=families.n_read,
        n_unnamed=len(families.set_aside),
        sentences=_sentences(families, ranked, n_done, n_compared, share),
    )


def _q_values(rows: list[FamilyRow], name: str) -> list[float | None]:
    chances = [getattr(r.year, name) for r in rows if r.year is not None]
    values = iter(false_discovery([p for p in chances if p is not None]))
    return [
        None if r.year is None or getattr(r.year, name) is None else float(next(values))
        for r in rows
    ]


def _place(r: Ranked) -> tuple[bool, bool, float, float, int, float, str]:
    row = r.row
    p = row.year.p_worse if row.year is not None and r.worse else None
    return (
        not row.done,
        not r.worse,
        math.inf if p is None or r.q_worse is None else r.q_worse,
        math.inf if p is None else p,
        VERDICT_ORDER.index(row.verdict),
        math.inf if row.plan_from_h is None else row.plan_from_h,
        row.slug,
    )


def _risen(ranked: tuple[Ranked, ...], bar: str) -> list[str]:
    """Name the families whose last year is worse than all years before it."""
    n = sum(r.q_risen is not None for r in ranked)
    risen = sorted((r for r in ranked if r.risen), key=lambda r: (r.q_risen or 0.0, r.rank))
    if not risen:
        return []
    named = [r.row.family for r in risen[:8]]
    named += [f"{len(risen) - 8} more"] if len(risen) > 8 else []
    return [
        f"More failures in the last year than all years before let expect at equal age, of {n:,} "
        f"compared ({bar}): {listed(named)}."
    ]


def _sentences(
    families: FamilyList, ranked: tuple[Ranked, ...], n_done: int, n_compared: int, share: float
) -> tuple[str, ...]:
    n = len(ranked)
    out = [
        f"{families.title}: {count(n, 'family', 'families')}, {n_done:,} answered"
        + (f", {n - n_done:,} without an answer" if n > n_done else "")
        + "."
    ]
    worse = [r.row.family for r in ranked if r.worse]
    bar = f"at most {100 * share:g} % of such calls are false alarms on average"
    if worse:
        named = [*worse[:8], f"{len(worse) - 8} more"] if len(worse) > 9 else worse
        out.append(
            f"Worse than the year before, of {n_compared:,} compared ({bar}): {listed(named)}."
        )
    elif n_compared:
        out.append(
            f"None of the {n_compared:,} families compared is called worse than the year before "
            f"({bar}); that is no proof that none is."
        )
    else:
        out.append(
            "No family has dated failures and hours of the last two years, so none is compared."
        )
    out += _risen(ranked, bar)
    against = sum(r.row.verdict == "contradicted" for r in ranked)
    shown = sum(r.row.verdict == "supported" for r in ranked)
    claimed = sum(r.row.claimed_h is not None for r in ranked)
    if claimed:
        out.append(
            f"Of {count(claimed, 'claimed interval')} the records support {shown:,} and contradict "
            f"{against:,}."
        )
    if families.set_aside:
        out.append(
            f"{count(len(families.set_aside), 'row')} of {families.n_read:,} name no family and "
            "were set aside."
        )
    return tuple(out)
