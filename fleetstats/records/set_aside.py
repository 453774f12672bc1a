"""A row that was read and is not used, with its reason."""

from __future__ import annotations

from fleetstats.core.value import Value, value


@value
class SetAside(Value):
    """A row that was read and is not used, with the code and the sentence of the reason."""

    file: str
    row: int
    reason: str
    message: str = ""
    engine: str = ""
    source: str = ""
    sheet: str = ""
