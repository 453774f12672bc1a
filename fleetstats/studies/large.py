"""A table of any length, studied: what an ordinary study gives, without what needs single lives.

The answers rest on when lives entered and how they ended, each taken together exactly, so they are
those of an ordinary study of the same rows; only where hours carry so many digits that hardly two
are equal are they rounded first, and the report says so. Chapters that look at single engines, at
dates, sources or builds are not computed; `LEFT_OUT` says so in the report.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np

from fleetstats.advice.advise import advise_hours
from fleetstats.advice.results import Results
from fleetstats.chapters.cautions import collect_cautions
from fleetstats.chapters.claim import advise_claim
from fleetstats.chapters.data import LEFT_OUT, Pairing
from fleetstats.core.provenance import Provenance, installed_versions
from fleetstats.core.stages import silent
from fleetstats.core.value import Value, value
from fleetstats.records.audit.finding import Audit, FileAccount
from fleetstats.records.reading import Records
from fleetstats.spells.build import Built
from fleetstats.spells.bulk import Bulk, build_bulk
from fleetstats.spells.coupling import couple_margins, fine_step, round_ages
from fleetstats.spells.funnel import NO_SOURCE, Funnel, FunnelLine
from fleetstats.spells.spells import PAIRED, Spells
from fleetstats.studies.analyse import be_sure, compare_families, describe, fit_or_reason
from fleetstats.study.assumptions import assumptions
from fleetstats.study.study import Study

MOST_ROWS = 500_000
"""More rows than that are rounded, since hours with so many digits come from no meter."""


@value
class Large(Value):
    """A large table's results.

    Parameters
    ----------
    bulk : Bulk
        The account of rows, and the spells.
    results : Results
        As of a study; its records are empty, since no row is kept.
    left_out : tuple of str
        Chapters that are not computed.
    """

    bulk: Bulk
    results: Results
    left_out: tuple[str, ...] = LEFT_OUT

    _not_in_dict = ("results",)

    def to_dict(self) -> dict[str, Any]:
        """Return everything but the spells as JSON-ready values."""
        out: dict[str, Any] = {"schema": "fleetstats/large/1"}
        out |= {k: v for k, v in Value.to_dict(self).items() if k != "schema"}
        whole = self.results.to_dict()
        return out | {k: v for k, v in whole.items() if k not in ("schema", "built", "audit")}

    def __repr__(self) -> str:
        lines = (f"Large: {self.bulk.summary()}", *self.results.answer_lines())
        return "\n".join(lines)


def analyse_large(
    study: Study, *, stage: Callable[[str], None] = silent, command: str = ""
) -> Large:
    """Run a study of one long table, read by chunks.

    Parameters
    ----------
    study : Study
        With one record file of shape "lives", CSV or Parquet.
    stage : callable
        Told the name of each stage as it begins.
    command : str
        Command line to print under *Provenance*.

    Returns
    -------
    Large

    Raises
    ------
    SettingError
        If the study asks for what cannot be done by chunks.
    ReadError
        If the file cannot be read.
    RecordError
        If findings stop the study, or no life is left.

    Examples
    --------
    >>> import fleetstats as fs
    >>> large = fs.analyse_large(fs.read_study("datasets/quiet-fleet"))
    >>> print(str(large).splitlines()[0])
    Large: 260 rows read = 260 used + 0 set aside; 260 engines, 255 different spells
    """
    stage("reading the records")
    bulk = build_bulk(study, stage=stage)
    stage("pairing entries with ends")
    settings = study.settings
    spells, rounded = _few_rows(bulk.spells)
    if abs(float(spells.weight.sum()) - bulk.engines_used) > 1e-9:  # then a row is no engine
        spells = spells.replace(unit=np.char.add(PAIRED, spells.unit))
    built = _built(bulk, spells, settings.fleet.built)
    stage("describing the lives")
    description = describe(spells, settings)
    stage("fitting")
    fit, no_fit = fit_or_reason(spells)
    comparison = compare_families(spells, fit)
    stage("computing bands")
    sureness = be_sure(spells, fit, settings)
    stage("weighing the advice")
    advice = advise_hours(spells, fit, settings)
    stage("what may be claimed")
    chapters: dict[str, Value] = {
        "bulk": bulk,
        "pairing": Pairing(n_rows=len(spells), rounded_to_h=rounded),
    }
    if settings.study.claimed_interval_h is not None:
        chapters["claim"] = advise_claim(spells, settings, fit=fit)
    told = (description.product_limit, *(v for k, v in chapters.items() if k == "claim"))
    found = collect_cautions(spells, fit, settings, advice, built=built, results=told)
    # an entry paired with another's end is no engine that could be left out
    items = tuple(c for c in found if c.code != "one-unit")
    results = Results(
        study=study,
        assumptions=assumptions(study),
        records=Records(rows=(), sources=(bulk.source,)),
        audit=_audit(bulk, study),
        built=built,
        description=description,
        fit=fit,
        no_fit=no_fit,
        comparison=comparison,
        opinions=(),
        sureness=sureness,
        advice=dataclasses.replace(advice, cautions=items),
        provenance=Provenance(
            files=(bulk.source,),
            versions=installed_versions(),
            seed=settings.study.seed,
            command=command or f"fleetstats large {study.name}",
        ),
        chapters=chapters,
    )
    return Large(bulk=bulk, results=results)


def _few_rows(spells: Spells) -> tuple[Spells, float | None]:
    """Return the spells in few rows, and the step to which their hours had to be rounded."""
    few = couple_margins(spells)
    if len(few) <= MOST_ROWS:
        return few, None
    return couple_margins(round_ages(spells)), fine_step(spells)


def _audit(bulk: Bulk, study: Study) -> Audit:
    file = study.of_shape("lives")[0]
    account = FileAccount(
        file=file.file,
        source=file.source,
        shape=file.shape,
        n_read=bulk.n_read,
        n_used=bulk.n_used,
        n_set_aside=bulk.n_set_aside,
        n_blank=bulk.n_blank,
        reasons=bulk.reasons,
    )
    return Audit(findings=bulk.findings, accounts=(account,), set_aside=(), used=())


def _built(bulk: Bulk, spells: Spells, n_built: int | None) -> Built:
    losses: dict[str, int] = {}
    for e in bulk.endings:
        if e.counts_as == "excluded":
            losses[e.reason] = losses.get(e.reason, 0) + e.n
    lives, excluded = sum(e.n for e in bulk.endings), sum(losses.values())
    line = FunnelLine(
        source=NO_SOURCE,
        rows_read=bulk.n_read,
        rows_set_aside=bulk.n_set_aside,
        rows_used=bulk.n_used,
        lives=lives,
        lives_excluded=excluded,
        lives_used=lives - excluded,
        engines=bulk.engines,
        engines_used=bulk.engines_used,
        row_losses=bulk.reasons,
        life_losses=losses,
    )
    return Built(
        spells=spells,
        endings=bulk.endings,
        funnel=Funnel(
            total=line, sources=(line,), n_built=n_built, n_fate_unknown=bulk.n_fate_unknown
        ),
        n_fate_unknown=bulk.n_fate_unknown,
        rows=(),
        verdicts=(),
    )
