"""The weakest points of the answer and what was not examined, as values."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.caution import Caution


@value
class WeakPoint(Value):
    """One thing that the verdict on the claim hangs on, with its figure and the limit of that.

    Parameters
    ----------
    key : str
        A key of `RULES` in `points.py`.
    sentence : str
        The same for a reader, at most 30 words.
    name : str
        What the figure is.
    figure, limit : float
        The number found, and the one that it is held against.
    unit : {"chance", "failures", "engines", "hours"}
        Of both.
    moved : float
        How far it moves the bound, as a share of the distance between the bound that is quoted and
        the accepted chance (`scale.py`); 1 or more covers all of it, below 0 it leads away from it.
    decides : bool
        Whether by itself it turns the verdict, or keeps it from being turned.
    by_size : bool
        Whether losing as many engines or hours at random could do so too: it then tells of how few
        there are, and stands last.
    """

    key: str
    sentence: str
    name: str
    figure: float
    limit: float
    unit: str
    moved: float
    decides: bool
    by_size: bool = False


@value
class NotExamined(Value):
    """One thing that these records or settings left unexamined, in a line."""

    key: str
    name: str
    sentence: str


@value
class Weakest(Value):
    """The weakest points of an answer.

    Parameters
    ----------
    points : tuple of WeakPoint
        At most three: those that decide first, those by size alone last, and within each by how
        far they move the bound towards the accepted chance.
    others : tuple of WeakPoint
        Those left, in the same order.
    not_examined : tuple of NotExamined
    scale : str
        What `moved` counts, in words.
    sentence : str
    """

    points: tuple[WeakPoint, ...]
    others: tuple[WeakPoint, ...]
    not_examined: tuple[NotExamined, ...]
    scale: str
    sentence: str
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return "\n".join([self.sentence, *(f"  {p.sentence}" for p in self.points)])

    __str__ = __repr__
