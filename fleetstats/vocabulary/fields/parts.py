"""Parts of piston engines and what befalls them, as causes are made of: words that name nobody.

A cause that holds no other word may leave with records whose names were replaced. From memory of
how clubs write causes; a word too few costs a reader one plain word, a word too many nothing.
"""

from __future__ import annotations

import re
from typing import Final

from fleetstats.vocabulary.fold import fold

_PARTS: Final = (
    "piston", "pin", "ring", "rings", "cylinder", "head", "barrel", "valve", "valves", "exhaust",
    "intake", "inlet", "guide", "seat", "spring", "rocker", "pushrod", "tappet", "lifter", "cam",
    "camshaft", "follower", "crank", "crankshaft", "crankcase", "case", "main", "bearing",
    "bearings", "conrod", "connecting", "rod", "big", "small", "end", "journal", "gear", "gears",
    "gearbox", "drive", "train", "accessory", "magneto", "ignition", "plug", "spark",
    "carburettor", "carburetor", "injector", "injection", "fuel", "pump", "oil", "filter",
    "cooler", "sump", "line", "seal", "gasket", "turbo", "turbocharger", "starter", "alternator",
    "propeller", "prop", "flange", "governor", "bolt", "stud", "nut", "thread", "thrust",
    "counterweight", "bush", "bushing", "liner", "engine", "internal", "top", "bottom", "front",
    "rear", "left", "right", "no", "nr", "number", "cold", "hot",
)  # fmt: skip
_BEFALLS: Final = (
    "failure", "failed", "fault", "crack", "cracked", "cracks", "wear", "worn", "seizure",
    "seized", "corrosion", "fatigue", "fracture", "fractured", "broken", "stuck", "burnt",
    "burned", "leak", "leaking", "low", "high", "loss", "pressure", "temperature", "overheating",
    "detonation", "overspeed", "strike", "sudden", "stoppage", "contamination", "metal",
    "consumption", "compression", "vibration", "spalled", "spalling", "scored", "scuffed",
    "damage", "damaged", "loose", "and", "or", "of", "in", "the", "at", "unknown", "other",
    "wrong",
)  # fmt: skip
_KNOWN: Final = frozenset((*_PARTS, *_BEFALLS))
_WORD: Final = re.compile(r"[^\W_]+")


def names_parts(cause: str) -> bool:
    """Return whether a cause is made of parts of engines, what befalls them, and numbers to 12.

    >>> names_parts("Exhaust valve, no. 3"), names_parts("broken by Smith")
    (True, False)
    """
    words = _WORD.findall(fold(cause))
    small = {str(n) for n in range(1, 13)}
    return bool(words) and all(w in _KNOWN or w in small for w in words)
