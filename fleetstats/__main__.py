"""The program's first lines: a stop while the rest is still being loaded is a stop, no trace."""

from __future__ import annotations

import sys


def run() -> None:
    """Load the verbs and run the one that was asked for."""
    try:
        from fleetstats.cli import main
        from fleetstats.core.pause import collect_seldom
    except KeyboardInterrupt:
        sys.stderr.write("fleetstats: stopped; nothing was begun.\n")
        sys.exit(130)
    collect_seldom()
    main(prog_name="fleetstats")


if __name__ == "__main__":
    run()
