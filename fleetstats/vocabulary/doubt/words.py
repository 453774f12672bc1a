"""Words that say how surely a number or a date is known, in several languages.

Each tuple holds pieces of regular expressions, read without regard to case; `alternatives` joins
them, the longest first, so that "more than" is not read as "more".
"""

from __future__ import annotations

ABOUT = (
    "~", "≈", "∼", "±", r"\+/-", "approximately", r"approx\.?", r"appr\.?", "about", "around",
    "roughly", "circa", r"ca\.?", r"c\.", "nearly", "almost", "some", r"est\.?", "estimated",
    "ungefähr", "ungefaehr", "etwa", "rund", "zirka", "fast", r"geschätzt",
    "environ", r"env\.?", "à peu près", "presque",
    "aproximadamente", r"aprox\.?", "unas", "unos", "alrededor de", "casi",
    "quasi", "all'incirca", "intorno a",
    "ongeveer", "rond", "zowat", "bijna",
)  # fmt: skip
"""Before or behind a figure: somewhere about it."""

AT_LEAST = (
    r">=?", "≥", "over", "more than", "above", "at least", r"min\.?", "minimum", "exceeding",
    "mehr als", "über", "ueber", "mindestens", "wenigstens",
    "plus de", "au moins", "supérieur à", "más de", "mas de", "al menos", "por lo menos",
    "oltre", "più di", "piu di", "almeno", "meer dan", "minstens", "ruim",
)  # fmt: skip
"""Before a figure: it, or more."""

OR_MORE = (
    r"\+", "plus", "or more", "or over", "and up", "and more", "oder mehr", "und mehr",
    "ou plus", "et plus", "o más", "o mas", "o più", "o piu", "e oltre", "of meer",
)  # fmt: skip
"""Behind a figure: it, or more."""

AT_MOST = (
    r"<=?", "≤", "under", "less than", "fewer than", "below", "at most", "up to", "not more than",
    "no more than", r"max\.?", "maximum",
    "weniger als", "unter", "höchstens", "hoechstens", "bis zu", "bis",
    "moins de", "au plus", "jusqu'à", "menos de", "como máximo", "hasta",
    "meno di", "al massimo", "fino a", "minder dan", "onder", "hoogstens",
)  # fmt: skip
"""Before a figure: it, or less."""

OR_LESS = (
    "or less", "or under", r"max\.?", "oder weniger", "ou moins", "o menos", "o meno", "of minder",
)  # fmt: skip
"""Behind a figure: it, or less."""

RANGE_OPENS = ("between", "from", "zwischen", "von", "entre", "de", "tra", "fra", "da", "tussen",
               "van")  # fmt: skip
"""Before the first of two figures."""

RANGE_JOINS = ("to", "bis", "à", "a", "tot", "or", "oder", "ou", "o", "of")
"""Between two figures, of which one is the lowest and one the highest."""

RANGE_ANDS = ("and", "und", "et", "y", "e", "en")
"""Between two figures after a word of `RANGE_OPENS`."""

PART_OF = (
    "early", "mid", "late", "beginning of", "start of", "end of",
    "anfang", "mitte", "ende", "début", "debut", "mi", "fin", "inizio", "metà", "fine",
    "principios de", "mediados de", "finales de", "begin", "midden", "eind",
)  # fmt: skip
"""Before a month or a year: some part of it; the whole is taken."""


def alternatives(words: tuple[str, ...]) -> str:
    """Return an expression that matches any of the words, the longest first; without a group.

    A word of letters is one only where no further letter follows.
    """
    longest = sorted(words, key=len, reverse=True)
    return "(?:" + "|".join(w + (r"(?![^\W\d_])" if w[0].isalpha() else "") for w in longest) + ")"
