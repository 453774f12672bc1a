"""Pseudonyms: from a name under a secret to letters that tell nothing of it."""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Iterable
from dataclasses import dataclass, field

from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id

LETTERS = "ACDEFHKMNPRTUVWX"
"""Sixteen letters of which no two look alike, so that no pseudonym reads as another."""
LENGTH = 10
SHORTEST_TOLD = 4
"""Letters of a name below which finding it in a word says nothing."""
MARKS = {"engine": "E", "source": "S", "part": "P", "place": "L", "reading": "R"}


def pseudonym(text: str, secret: bytes, kind: str) -> str:
    """Return the pseudonym of a name: the same under the same secret, nothing readable in it.

    HMAC-SHA-256 (RFC 2104), so without the secret nobody can try names until one fits.
    """
    if not text:
        return ""
    digest = hmac.new(secret, f"{kind}\0{text}".encode(), hashlib.sha256).digest()
    word = "".join(LETTERS[b & 15] for b in digest[:LENGTH])
    return f"{MARKS.get(kind, 'X')}-{word}"


@dataclass(slots=True)
class Names:
    """The names of one study and what stands for them.

    Parameters
    ----------
    secret : bytes
        Of the pseudonyms; never written.
    known : set of str
        Every name met so far as `fold` has it: what no word that leaves may hold.
    """

    secret: bytes
    known: set[str] = field(default_factory=set)
    ways: dict[str, dict[str, str]] = field(default_factory=dict)
    asked: dict[str, bool] = field(default_factory=dict)

    def meet(self, names: Iterable[str]) -> None:
        """Take note of names that must not leave."""
        self.known |= {fold(n) for n in names if any(c.isalpha() for c in n)}
        self.asked.clear()

    def engine(self, text: str) -> str:
        """Return the pseudonym of an engine; other ways of writing one id stay other ways."""
        own = normalise_id(text)
        if not own:
            return ""
        ways = self.ways.setdefault(own, {})
        if text not in ways:
            plain = pseudonym(own, self.secret, "engine")
            forms = (
                plain,
                plain.replace("-", " "),
                plain.replace("-", ""),
                plain.replace("-", "_"),
            )
            ways[text] = forms[min(len(ways), len(forms) - 1)]
        return ways[text]

    def source(self, text: str) -> str:
        """Return the pseudonym of a source, however it is spelled."""
        return pseudonym(fold(text), self.secret, "source")

    def other(self, text: str, kind: str) -> str:
        """Return the pseudonym of any other name."""
        return pseudonym(fold(text), self.secret, kind)

    def tells(self, text: str) -> bool:
        """Return whether a text holds a name that must not leave."""
        if text not in self.asked:
            plain = fold(text)
            words = set(plain.split())
            self.asked[text] = any(
                n in words or (len(n) >= SHORTEST_TOLD and n in plain) for n in self.known
            )
        return self.asked[text]
