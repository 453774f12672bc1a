"""The lineage of a report's figures as files: the table of all lives, data, and a page."""

from fleetstats.report.lineage.files import LIVES, LIVES_COLUMNS, lineage_json, lives_csv
from fleetstats.report.lineage.first_screen import LINEAGE_PAGE, markup_of
from fleetstats.report.lineage.links import FigureLinks, find_links
from fleetstats.report.lineage.page import lineage_html

__all__ = [
    "LINEAGE_PAGE",
    "LIVES",
    "LIVES_COLUMNS",
    "FigureLinks",
    "find_links",
    "lineage_html",
    "lineage_json",
    "lives_csv",
    "markup_of",
]
