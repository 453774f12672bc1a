"""Departures from the defaults, each with what it changed."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.caution import Caution


@value
class Departure(Value):
    """A setting that differs from its default.

    Parameters
    ----------
    key : str
        Its path in the study file, as ``records[2].endings.failed``.
    said : str
        What it does, as a clause for a reader.
    value, default : str
        What holds, and what would hold were it not set.
    effect : str
        What it changed, in counts; blank where it changes no count but what is computed.
    turns : bool
        Whether it can turn the verdict on a claim.
    file : str
        The record file that it belongs to; blank for the whole study.
    n : int or None
        Rows or lives that it touches, where they are counted.
    turned : int
        Those of them that would count as failures or findings without it, and do not with it.
    """

    key: str
    said: str
    value: str
    default: str
    effect: str
    turns: bool
    file: str = ""
    n: int | None = None
    turned: int = 0


@value
class Stated(Value):
    """A setting that the study file states and that is no departure."""

    key: str
    value: str
    why: str
    doc: str


@value
class DepartureList(Value):
    """Every departure of a study, in the order of the study file, and what else it states.

    `lines` is the short form for a first page, those first that can turn a verdict; `prompt_lines`
    says for a prompt how many there are and which can.
    """

    items: tuple[Departure, ...]
    stated: tuple[Stated, ...]
    lines: tuple[str, ...] = ()
    prompt_lines: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()

    @property
    def turning(self) -> tuple[Departure, ...]:
        """Return those that can turn the verdict."""
        return tuple(d for d in self.items if d.turns)
