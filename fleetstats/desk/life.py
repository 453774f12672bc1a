"""How long the desk stays open: from its first page until the last is closed."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, field

LEFT_S = 75.0
"""After the last page was left: browsers let a page in the background speak once a minute."""
SILENT_S = 900.0
"""After the last sign of a page that was never left, as when the browser was killed."""


@dataclass(slots=True)
class Life:
    """Whether a page is still looked at; a desk that nobody opened waits for ever."""

    seen: float = 0.0
    left: bool = False
    closed: threading.Event = field(default_factory=threading.Event)

    def sign(self) -> None:
        """Note that a page is there."""
        self.seen, self.left = time.monotonic(), False

    def leave(self) -> None:
        """Note that a page was left; another sign takes it back."""
        self.left = True

    def over(self, now: float) -> bool:
        """Return whether it is time to end."""
        if self.closed.is_set():
            return True
        quiet = now - self.seen
        return self.seen > 0.0 and quiet > (LEFT_S if self.left else SILENT_S)
