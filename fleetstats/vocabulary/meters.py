"""Hour meters: the words of the trade for their kinds."""

from __future__ import annotations

from fleetstats.vocabulary.fold import fold

METER_WORDS = {
    "flight": ("flight", "flight time", "flight hours", "air time", "time in service", "airborne"),
    "tach": ("tach", "tacho", "tachometer", "tach time"),
    "hobbs": ("hobbs", "hobbs meter", "hobbs time"),
}
"""Words of the trade for each meter kind."""


def meter_kind(word: str) -> str:
    """Return the meter kind that a word stands for, or an empty text."""
    plain = fold(word)
    return next((k for k, words in METER_WORDS.items() if plain in words), "")
