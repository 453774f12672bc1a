"""Results of one run that the next may take up, kept on the user's own disk."""

from fleetstats.core.shelf.content import digest_content
from fleetstats.core.shelf.sealed import Unsealed, seal, seal_of, unseal
from fleetstats.core.shelf.shelf import FOLDER_VARIABLE, Shelf, open_shelf

__all__ = [
    "FOLDER_VARIABLE",
    "Shelf",
    "Unsealed",
    "digest_content",
    "open_shelf",
    "seal",
    "seal_of",
    "unseal",
]
