"""What ends a spell."""

from __future__ import annotations

import enum


class Event(enum.IntEnum):
    """What ended a spell, with respect to the study's question.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.Spells.of(0, [400, 650], [fs.Event.FAILED, fs.Event.CENSORED]).failed.tolist()
    [True, False]
    """

    CENSORED = 0
    """Still running, lost, or ended by something that says nothing of the failure in question."""
    FAILED = 1
    """The failure in question; known exactly, or to lie in ``(exit_lower, exit_upper]``."""
    COMPETING = 2
    """A failure from another cause; censors the failure in question."""
    FINDING = 3
    """Removed because of a finding: neither a failure nor a fair censoring (Peterson 1976)."""


EVENT_OF = {
    "failure": Event.FAILED,
    "competing": Event.COMPETING,
    "censored": Event.CENSORED,
    "finding": Event.FINDING,
}
"""What an ending counts as, and the event of its spell."""
