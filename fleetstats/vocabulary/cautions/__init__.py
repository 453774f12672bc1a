"""The catalogue of cautions: every code with its rank, sentences, limits and what to do.

No other file writes the sentence of a caution. One is made by `caution`, which names the code and
the case, as ``"few-failures/causes"``, the fields of the sentence, and the figures compared.
"""

from __future__ import annotations

from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions.assertions import ASSERTIONS
from fleetstats.vocabulary.cautions.calendar import CALENDAR
from fleetstats.vocabulary.cautions.censoring import CENSORING
from fleetstats.vocabulary.cautions.change import CHANGE
from fleetstats.vocabulary.cautions.chapters import CHAPTERS
from fleetstats.vocabulary.cautions.clocks import CLOCKS
from fleetstats.vocabulary.cautions.covariates import COVARIATES
from fleetstats.vocabulary.cautions.curve import CURVE
from fleetstats.vocabulary.cautions.declared import DECLARED
from fleetstats.vocabulary.cautions.departures import DEPARTURES
from fleetstats.vocabulary.cautions.doubtful import DOUBTFUL
from fleetstats.vocabulary.cautions.entry import FIRST, SECOND, Case, CautionEntry
from fleetstats.vocabulary.cautions.evidence import EVIDENCE
from fleetstats.vocabulary.cautions.fleet import FLEET
from fleetstats.vocabulary.cautions.looks import LOOKS
from fleetstats.vocabulary.cautions.planned_looks import PLANNED_LOOKS
from fleetstats.vocabulary.cautions.sources import SOURCES
from fleetstats.vocabulary.cautions.trouble import TROUBLE
from fleetstats.vocabulary.cautions.unreported import UNREPORTED

__all__ = ["CAUTIONS", "FIRST", "SECOND", "Case", "CautionEntry", "caution", "rank_of"]

CAUTIONS: dict[str, CautionEntry] = {
    e.code: e
    for e in (
        *EVIDENCE, *FLEET, *CHAPTERS, *DEPARTURES, *DOUBTFUL, *CENSORING, *ASSERTIONS, *TROUBLE,
        *UNREPORTED, *SOURCES, *CURVE, *CLOCKS, *LOOKS, *PLANNED_LOOKS, *COVARIATES, *CALENDAR,
        *CHANGE, *DECLARED,
    )
}  # fmt: skip
"""All kinds by code."""


def caution(key: str, /, *, value: str = "", limit: str = "", **fields: object) -> Caution:
    """Return a caution with the words of the catalogue.

    Parameters
    ----------
    key : str
        A code, with the case after a slash where the kind has several.
    value, limit : str
        The figures compared, with units.
    **fields
        What the sentence or its proviso names in braces.

    Raises
    ------
    KeyError
        If the catalogue has no such code or case, or a field of its sentence is not given.
    """
    code, _, case = key.partition("/")
    told = CAUTIONS[code].cases[case]
    return Caution(
        code=code,
        text=told.says.format(**fields),
        where=told.where.format(**fields),
        value=value,
        limit=limit,
        proviso=told.proviso.format(**fields),
    )


def rank_of(code: str) -> int:
    """Return the rank of a caution: `FIRST` if it may turn the answer, else `SECOND`."""
    return CAUTIONS[code].rank
