"""The program's first lines: a stop while the rest is still being loaded is a stop, no trace."""

from __future__ import annotations

import sys


def run() -> None:
    """Load the verbs and run the one that was asked for."""
    try:
        from fleetstats.core.child import heed_the_end

        heed_the_end()
        from fleetstats.cli import main
        from fleetstats.core.pause import collect_seldom
    except KeyboardInterrupt as stop:
        sys.stderr.write("fleetstats: stopped; nothing was begun.\n")
        sys.exit(getattr(stop, "status", 130))
    collect_seldom()
    main(prog_name="fleetstats")


if __name__ == "__main__":
    run()
