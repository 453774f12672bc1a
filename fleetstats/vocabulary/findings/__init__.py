"""The catalogue of findings: every code with its severity, sentences, cures and limit.

No other file writes the severity or the sentence of a finding. One is made by naming its code and
the case, as ``"hours-impossible/overhaul"``, and the fields of the sentence.
"""

from __future__ import annotations

from fleetstats.vocabulary.findings.categories import CATEGORY, CATEGORY_LOG
from fleetstats.vocabulary.findings.condition import CONDITION
from fleetstats.vocabulary.findings.doubtful import DOUBTFUL
from fleetstats.vocabulary.findings.entry import FindingEntry, Said
from fleetstats.vocabulary.findings.files import FILES
from fleetstats.vocabulary.findings.fleet import FLEET
from fleetstats.vocabulary.findings.histories import HISTORIES
from fleetstats.vocabulary.findings.logs import LOGS
from fleetstats.vocabulary.findings.mends import MENDS
from fleetstats.vocabulary.findings.parts import PARTS
from fleetstats.vocabulary.findings.reasons import REASONS
from fleetstats.vocabulary.findings.rows import ROWS
from fleetstats.vocabulary.findings.trouble import TROUBLE
from fleetstats.vocabulary.findings.words import WORDS

LIFE_FINDINGS: dict[str, FindingEntry] = {
    e.code: e
    for e in (
        *FILES,
        *MENDS,
        *ROWS,
        *WORDS,
        *FLEET,
        *DOUBTFUL,
        *TROUBLE,
        *CATEGORY,
        *HISTORIES,
    )
}
"""Kinds found in tables of lives and histories, by code; the audit settles what to do."""

LOG_FINDINGS: dict[str, FindingEntry] = {e.code: e for e in (*LOGS, *PARTS, *CATEGORY_LOG)}
"""Kinds found in logs, parts, clocks and pooled returns, by code."""

CONDITION_FINDINGS: dict[str, FindingEntry] = {e.code: e for e in CONDITION}
"""Kinds found in tables of checks, readings and bench runs alone, by code."""

FINDINGS: dict[str, FindingEntry] = LIFE_FINDINGS | LOG_FINDINGS | CONDITION_FINDINGS
"""All kinds by code."""

FILE_FINDINGS: frozenset[str] = frozenset(e.code for e in FINDINGS.values() if e.of_file)
"""Kinds that concern a whole file; [treat] cannot mend them."""


def entry_of(key: str) -> FindingEntry:
    """Return the entry of a code, or of a code and a case."""
    return FINDINGS[key.partition("/")[0]]


def say_finding(key: str, /, **fields: object) -> Said:
    """Return the sentence and the cure of a kind of finding.

    Parameters
    ----------
    key : str
        A code, with the case after a slash where the kind has several.
    **fields
        What the sentence and the cure name in braces.
    """
    code, _, case = key.partition("/")
    entry = FINDINGS[code]
    sentence = entry.says[case].format(**fields).strip()
    return Said(sentence, entry.cure[case].format(**fields).strip())


def meaning_of(code: str) -> str:
    """Return what a code of the audit or a reason of a row set aside means; empty if unknown."""
    return FINDINGS[code].meaning if code in FINDINGS else REASONS.get(code, "")
