"""One check that walks a finished report: a quantity in many places is one number in all of them.

`places` lists every text and cell of a document, `sightings` says which quantity stands where,
`reading` takes the number out with the precision shown, `compare` sets them side by side.
"""

from fleetstats.chapters.consistency.compare import check_figures
from fleetstats.chapters.consistency.sightings import Form, list_forms

__all__ = ["Form", "check_figures", "list_forms"]
