"""Data and audit, of whole tables and of tables read by chunks."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.data.long_table import compose_bulk
from fleetstats.chapters.data.section import compose_data
from fleetstats.document.document import Section


def data_section(results: Results) -> Section:
    """Return the account of rows, as the table was read."""
    return compose_bulk(results) if "bulk" in results.chapters else compose_data(results)
