"""The values of the chapter on the origin of a pseudonymous study."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.study.origin import StudyOrigin
from fleetstats.vocabulary.caution import Caution


@value
class OriginTold(Value):
    """What a pseudonymous study tells of the one that it was made from.

    Parameters
    ----------
    origin : StudyOrigin
        As its maker told it.
    n_read, n_used, n_set_aside : int
        Rows of the records here; the original's account where they are equal.
    same_account : bool
        Whether rows read, used and set aside, by reason, are those of the original.
    sentence : str
        That names were replaced, and to which steps figures were coarsened.
    cautions : tuple of Caution
    identity : str
        What the report's number takes in of it.
    """

    origin: StudyOrigin
    n_read: int
    n_used: int
    n_set_aside: int
    same_account: bool
    sentence: str
    cautions: tuple[Caution, ...] = ()
    identity: str = ""

    _not_in_dict = ("identity",)
