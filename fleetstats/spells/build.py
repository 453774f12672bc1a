"""Lives to spells: what each ending counts as for the question, and what was left out."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import field, replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from fleetstats.core.errors import RecordError, SpellError
from fleetstats.core.gate import an, gate
from fleetstats.core.kept import kept
from fleetstats.core.pause import collection_paused
from fleetstats.core.value import Value, value
from fleetstats.records.audit.audit_fleet import count_unknown
from fleetstats.records.audit.finding import Audit
from fleetstats.records.life import LifeRow
from fleetstats.records.reading import Records
from fleetstats.records.rules import Ruling, judge_endings
from fleetstats.spells.asserted import Asserted, LivesTold, find_asserted
from fleetstats.spells.days.since import NOT_COUNTED, SinceCut, cut_since
from fleetstats.spells.edges import edges_of_all
from fleetstats.spells.event import EVENT_OF
from fleetstats.spells.funnel import Funnel, build_funnel
from fleetstats.spells.heaping import widen_rounded
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.spells import Spells
from fleetstats.spells.splits import split_modified
from fleetstats.spells.trouble.place import ledger_of
from fleetstats.spells.trouble.values import Trouble
from fleetstats.study.settings import Settings
from fleetstats.study.study import STUDY, Study

if TYPE_CHECKING:
    import pandas as pd

AUDIT = an(Audit, "Make one by fs.audit_records(study, records).")
RECORDS = an(Records, "Read them by fs.read_records(study).")


@value
class EndingCount(Value):
    """How many lives ended so, what they count as, and why."""

    ending: str
    cause: str
    confirmed: bool | None
    counts_as: str
    reason: str
    n: int


@value
class Built(Value):
    """Spells for the study's question, with the account of what became of every life.

    Parameters
    ----------
    spells : Spells
        The lives at risk.
    endings : tuple of EndingCount
        Endings by cause, with what they count as.
    funnel : Funnel
        Rows, engines, lives, used.
    n_fate_unknown : int
        Engines built that are in no row.
    rows : tuple of LifeRow
        The life behind each spell, in the same order.
    verdicts : tuple of Ruling
        What each life's ending counts as, in the same order.
    left_out : tuple of LeftOut
        Failures that the records hint at and no spell counts. The spells carry them too, without
        the names of engines where no row is kept, since spells then name none.
    asserted : Asserted or None
        What is asserted of the lives on a typed word, and what shows it; None where that was not
        looked for.
    told : LivesTold or None
        What the lives tell and leave untold, of a table whose rows are not kept.
    trouble : Trouble
        Every row that hints at a failure, and where it was counted.
    since : SinceCut or None
        What was left out and kept, where only what happened after a date counts.
    before_rise : date or None
        The last day before a rise of the rate that the records show over the calendar, of which
        the spells know by `at_rise_h`.
    out : tuple of LifeRow
        The lives that are in no spell, since a rule or the date from which lives count leaves them
        out.
    out_verdicts : tuple of Ruling
        What each of these counts as, in the same order.
    settings_read : tuple of str
        Keys of the settings that were read on the way from the files to the spells, where that was
        noted (`studies.reads`).
    """

    spells: Spells
    endings: tuple[EndingCount, ...]
    funnel: Funnel
    n_fate_unknown: int
    rows: tuple[LifeRow, ...]
    verdicts: tuple[Ruling, ...]
    left_out: tuple[LeftOut, ...] = ()
    asserted: Asserted | None = None
    trouble: Trouble = field(default_factory=Trouble)
    since: SinceCut | None = None
    before_rise: dt.date | None = None
    out: tuple[LifeRow, ...] = ()
    out_verdicts: tuple[Ruling, ...] = ()
    settings_read: tuple[str, ...] = ()
    told: LivesTold | None = None

    _not_in_dict = ("rows", "verdicts", "before_rise", "out", "out_verdicts", "settings_read",
                    "told")  # fmt: skip

    def __post_init__(self) -> None:
        theirs = self.left_out
        if not self.rows:
            theirs = tuple(replace(x, engine="") for x in theirs)
        object.__setattr__(self, "spells", self.spells.with_left_out(theirs))

    @property
    def unlooked(self) -> bool:
        """Return whether conditions at a check are in question and no check is in the records."""
        return self.asserted is not None and self.asserted.unlooked

    def told_of(self, settings: Settings) -> LivesTold:
        """Return what the rows of the lives tell, as it was counted where they are not kept."""
        if self.told is not None and not self.rows:
            return self.told
        # many chapters ask; what is counted hangs on no other setting
        asked = settings.study.analysis_date, settings.hours.stale_days
        return kept(self, ("rows told", *asked), lambda: LivesTold.of_rows(self.rows, settings))

    def to_frame(self) -> pd.DataFrame:
        """Return the spells as a table, one row each, with the ending behind it."""
        import pandas as pd

        frame = self.spells.to_frame()
        frame["ending"] = [x.ending for x in self.rows]
        frame["reason"] = [v.reason for v in self.verdicts]
        frame["origin"] = [str(x.origin) for x in self.rows]
        return pd.DataFrame(frame)

    def __repr__(self) -> str:
        t = self.funnel.total
        return f"Built: {t.rows_read} rows, {t.lives} lives, {t.lives_used} used\n{self.spells!r}"


@collection_paused()
@gate(study=STUDY, records=RECORDS, audit=AUDIT)
def build_spells(study: Study, records: Records, audit: Audit) -> Built:
    """Build the spells for a study's question.

    Parameters
    ----------
    study : Study
        Its failure rules decide what each ending counts as.
    records, audit : Records, Audit
        What was read, and which lives the audit leaves in.

    Returns
    -------
    Built

    Raises
    ------
    RecordError
        If findings of the audit stop the study; the message names the first of them.

    References
    ----------
    The study's own failure rules; no source.

    Examples
    --------
    >>> import fleetstats as fs
    >>> study = fs.read_study("datasets/quiet-fleet")
    >>> records = fs.read_records(study)
    >>> print(fs.build_spells(study, records, fs.audit_records(study, records)))
    Built: 260 rows, 260 lives, 260 used
    Spells: 260 lives of 260 engines, 0 failed, 197,656 h at risk
    """
    if not audit.ok:
        raise RecordError(*_stop_text(audit))
    settings = study.settings
    lives = [y for x in audit.used for y in split_modified(x)]
    judged = list(zip(lives, judge_endings(lives, settings), strict=True))
    since = None
    if settings.study.since is not None:
        judged, since = cut_since(judged, settings.study.since, settings.study.analysis_date)
    kept = [(x, v) for x, v in judged if v.counts_as not in NOT_COUNTED]
    left = [(x, v) for x, v in judged if v.counts_as in NOT_COUNTED]
    out = [(x, v.reason) for x, v in left]
    rows = tuple(x for x, _ in kept)
    unknown = count_unknown(records, settings)
    trouble, left_out = ledger_of(study, records, audit, judged)
    built = settings.fleet.built
    if built is None and records.serials:
        built = len(records.serials)
    return Built(
        spells=spells_for(rows, tuple(v for _, v in kept), settings),
        endings=_endings(judged),
        funnel=build_funnel(records, audit, rows, out, n_built=built, n_fate_unknown=unknown),
        n_fate_unknown=unknown,
        rows=rows,
        verdicts=tuple(v for _, v in kept),
        asserted=find_asserted(study, records, rows),
        left_out=left_out,
        trouble=trouble,
        since=since,
        out=tuple(x for x, _ in left),
        out_verdicts=tuple(v for _, v in left),
    )


def spells_for(
    rows: tuple[LifeRow, ...], verdicts: tuple[Ruling, ...], settings: Settings
) -> Spells:
    """Return the spells of judged lives, with rounded failures as the study says.

    Raises
    ------
    SpellError
        If a life cannot be; the message names its file and row.
    """
    try:
        spells = spells_of(rows, verdicts, settings)
        if settings.hours.rounded != "interval":
            return spells
        claimed = settings.study.claimed_interval_h
        return widen_rounded(spells, but_not=() if claimed is None else (claimed,)).spells
    except SpellError as error:
        raise error.at([x.origin for x in rows]) from None


def spells_of(
    rows: tuple[LifeRow, ...], verdicts: tuple[Ruling, ...], settings: Settings
) -> Spells:
    """Return the spells of lives whose endings were judged.

    Each ends between its `edges_of`.
    """
    n = len(rows)
    lower, upper, in_words = edges_of_all(rows, verdicts)
    clock_sd, meter = cache(settings.clocks.stated), settings.hours.meter
    # An engine that is written in two ways is one engine, under the name read first.
    names: dict[str, str] = {}
    for x in rows:
        names.setdefault(x.engine_id, x.engine)
    return Spells(
        unit=np.array([names[x.engine_id] for x in rows], dtype=np.str_),
        entry=np.array([x.entry_h for x in rows], dtype=np.float64).reshape(n),
        exit_lower=lower,
        exit_upper=upper,
        event=np.array([EVENT_OF[v.counts_as] for v in verdicts], dtype=np.int8),
        cause=np.array([x.cause for x in rows], dtype=np.str_),
        source=np.array([x.source for x in rows], dtype=np.str_),
        build=np.array([x.build for x in rows], dtype=np.str_),
        weight=np.array([x.count for x in rows], dtype=np.float64).reshape(n),
        in_words=in_words,
        assumed_h=np.array([x.carried_h for x in rows], dtype=np.float64).reshape(n),
        clock_sd=np.array(
            [clock_sd(x.clock_doubt, x.meter or meter) for x in rows], dtype=np.float64
        ).reshape(n),
    )


def _endings(judged: list[tuple[LifeRow, Ruling]]) -> tuple[EndingCount, ...]:
    table: Counter[tuple[str, str, bool | None, str, str]] = Counter()
    for x, v in judged:
        table[x.ending, x.cause, x.confirmed, v.counts_as, v.reason] += x.count
    order = [*list(EVENT_OF), *NOT_COUNTED]
    lines = sorted(table.items(), key=lambda kv: (order.index(kv[0][3]), -kv[1], str(kv[0])))
    return tuple(
        EndingCount(ending=e, cause=c, confirmed=ok, counts_as=k, reason=r, n=n)
        for (e, c, ok, k, r), n in lines
    )


def _stop_text(audit: Audit) -> tuple[str, str]:
    stops = audit.stops
    shown = "\n".join(f"  {f}" for f in stops[:20])
    more = f"\n  … and {len(stops) - 20} more" if len(stops) > 20 else ""
    codes = list(dict.fromkeys(f.code for f in stops))
    n = len(stops)
    return (
        f"The records hold {n} error{'s' if n > 1 else ''} that stop{'' if n > 1 else 's'} the "
        f"study:\n{shown}{more}\n",
        f"Correct them, or say in [treat] what to do about: {', '.join(codes[:12])}.",
    )
