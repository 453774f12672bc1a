"""Provenance: what is needed to make this report again, and to see that nothing was altered."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.document.blocks import facts, files_table, say
from fleetstats.document.document import Block, Section
from fleetstats.document.identity import report_id
from fleetstats.document.table_of import col, table_of
from fleetstats.vocabulary.caution import STANDING_NOTICE

CHECKERS = "python check/check.py, or Rscript check/check.R, in the report's folder"
"""How somebody works out the figures again from the table of lives, with a script that uses nothing
of ours; not where lives are not listed one by one."""


def compose_provenance(results: Results) -> Section:
    """Return files with digests, versions, seed and command."""
    p = results.provenance
    whole = not results.how_read.by_chunks
    alone = [("To check it without us", CHECKERS)] if whole else []
    blocks: list[Block] = [
        facts(
            "provenance",
            "To make this report again",
            [
                ("Report", report_id(results)),
                ("Command", p.command),
                ("Seed of random draws", str(p.seed)),
                ("Analysis date", str(results.settings.study.analysis_date or "not said")),
                *alone,
            ],
            "Same files, settings, seed and versions give the same bytes. The report's number goes "
            "by the digests of the records, every setting of the study file, maps and rules "
            "included, and the version; a comment in the study file changes its digest alone.",
        ),
        files_table(p.files, () if p.study_file is None else (p.study_file,)),
        table_of(
            sorted(p.versions.items()),
            key="versions",
            title="Versions",
            columns=(
                col("name", "Software", lambda x: x[0]),
                col("version", "Version", lambda x: x[1]),
            ),
            folded=True,
        ),
    ]
    if results.troubles:
        blocks += [say(c.text, "missing") for c in results.troubles]
    blocks += [say(line, "caution") for line in STANDING_NOTICE]
    return Section(key="provenance", title="Provenance", blocks=tuple(blocks))
