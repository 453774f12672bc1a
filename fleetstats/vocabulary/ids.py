"""Serials of engines and parts: which ways of writing them are one."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_SEPARATORS = re.compile(r"[\s\-_/.\\#:]+")
_JOINTS = re.compile(r"(?<!\d)-|-(?!\d)")
_DIGITS = re.compile(r"\d+")
_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")

MOST_IDS = 131_072
"""Ids whose forms are kept: those of a large fleet, of which one step after another asks."""


@lru_cache(maxsize=MOST_IDS)
def normalise_id(text: str) -> str:
    """Return an engine id without the differences that clerks make.

    Upper case, compatibility forms resolved, separators dropped (but one "-" kept between two
    digits, so that 1-11 and 11-1 stay apart), leading zeros of each run of digits dropped.

    It is another rule than that for words (`fold`): in a serial zeros before a number and signs
    between letters and digits are habits of the writer, "E-0101" and "E101"; in a word they are
    not. `id_key.hash_ids` does the same for whole columns.
    """
    if text.isascii() and text.isalnum():
        s = text.upper()
        return _ZEROS.sub("", s) if "0" in s else s
    s = unicodedata.normalize("NFKC", text).upper()
    if not s.isprintable():
        s = "".join(c for c in s if c.isprintable())
    s = _SEPARATORS.sub("-", s).strip("-")
    s = _JOINTS.sub("", s)
    return _ZEROS.sub("", s)


_SERIAL = re.compile(r"[A-Za-z]*[0-9][A-Za-z0-9]*|[A-Za-z][A-Za-z-]*[0-9][A-Za-z0-9-]*")


def is_bare_serial(text: str) -> bool:
    """Return whether a text can be nothing but a serial, as most ids are, by its signs alone.

    Letters and digits of ASCII with at least one digit, and hyphens where a letter is first: no
    word that says nothing, no line of a total or a signature, and not the example of a template.

    >>> [is_bare_serial(x) for x in ("E-0101", "e101", "4711", "Total", "27-engines", "E 101")]
    [True, True, True, False, False, False]
    """
    return _SERIAL.fullmatch(text) is not None


@lru_cache(maxsize=MOST_IDS)
def id_order(text: str) -> str:
    """Return a form of an engine id whose order does not hang on how a clerk spelt it.

    As `normalise_id`, with each run of digits filled up, so that E-9 stands before E-10. Each part
    of a fleet that is drawn from puts its engines in order anew, so that the forms are kept.
    """
    return _DIGITS.sub(lambda m: m[0].zfill(12), normalise_id(text))


_LOOK_ALIKE = str.maketrans("OQILSBZ", "0011582")


def look_alike(text: str) -> str:
    """Return an engine id as the eye may take it: O and 0, I, l and 1, S and 5, B and 8, Z and 2.

    Ids that differ in `normalise_id` and not here may be one engine.

    >>> look_alike("E-1O1") == look_alike("E-101") == look_alike("e-l0I")
    True
    """
    if not text.isascii():
        text = unicodedata.normalize("NFKC", text)
    # kept are the forms that are asked for again, not these
    return normalise_id.__wrapped__(text.upper().translate(_LOOK_ALIKE))


_TYPED_FOR_DIGITS = str.maketrans("OoIl", "0011")


def with_digits(number: str) -> str:
    """Return a number with the letters that are typed for digits as digits.

    >>> with_digits("1O5l")
    '1051'
    """
    return number.translate(_TYPED_FOR_DIGITS)
