"""The drawing library as it is delivered: no file of the folder or the user changes or stops it."""

from __future__ import annotations

import importlib.util
import os
import sys
from pathlib import Path
from typing import Any

RC_FILE = "matplotlibrc"


def load_drawing_library() -> None:
    """Import the drawing library before anything else does, with its own settings alone.

    At its import it reads a file of settings in the folder at hand, or else in the user's, and a
    damaged one stops the import. Nothing is done where it is loaded already or not installed.
    """
    if "matplotlib" in sys.modules:
        return
    spec = importlib.util.find_spec("matplotlib")
    if spec is None or not spec.submodule_search_locations:
        return
    own = Path(spec.submodule_search_locations[0]) / "mpl-data" / RC_FILE
    exists, before = os.path.exists, os.environ.get("MATPLOTLIBRC")

    def not_at_hand(path: Any) -> bool:
        return path != RC_FILE and exists(path)

    os.path.exists = not_at_hand  # the library looks here first, and has no switch for it
    os.environ["MATPLOTLIBRC"] = str(own)
    try:
        importlib.import_module("matplotlib")
    finally:
        os.path.exists = exists
        if before is None:
            os.environ.pop("MATPLOTLIBRC", None)
        else:
            os.environ["MATPLOTLIBRC"] = before
