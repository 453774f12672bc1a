"""The ledger read: its looks, and every sign that it is not as it was written.

The first line of the file says how many looks follow and the SHA-256 of the last; each other line
is one look with the SHA-256 of the line before. So a line that was edited, taken out, put in or
moved is found, and so is an end that is missing. Whoever writes all digests anew is not found from
the file alone: reports and bundles made before say how many looks there were.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import field
from pathlib import Path
from typing import Any, NamedTuple

from fleetstats.core.doors.json_text import load_json
from fleetstats.core.limits import most
from fleetstats.core.value import Value, value
from fleetstats.study.history.look import LedgerLook, look_of
from fleetstats.vocabulary.wording import count, listed

HISTORY_FILE = "history.jsonl"
SCHEMA = "fleetstats/history/1"
MOST_BYTES = most("history_bytes")
"""A larger ledger is not read; ten thousand looks take less."""

FOUND_EARLIER = "Found earlier: "
"""How a flaw begins that a line of the ledger keeps of the ledger as it was found."""

BOM = b"\xef\xbb\xbf"


@value
class Ledger(Value):
    """The looks written down in a study's folder.

    Parameters
    ----------
    there : bool
        Whether there is a ledger at all.
    looks : tuple of LedgerLook
        Those that can be read, by their numbers; a line that stands twice counts once.
    flaws : tuple of str
        What is wrong with the ledger, each as a sentence; empty where it is as it was written.
    odd : tuple of str
        What another program did to the file without touching a look.
    digests : dict
        SHA-256 of the line of each look, by its number.
    """

    there: bool
    looks: tuple[LedgerLook, ...] = ()
    flaws: tuple[str, ...] = ()
    odd: tuple[str, ...] = ()
    digests: dict[int, str] = field(default_factory=dict)

    _not_in_dict = ("digests",)

    @property
    def n_looks(self) -> int:
        """Return how many looks were made: runs that saw the same thing count once."""
        return len({x.question for x in self.looks})


class Told(NamedTuple):
    """One line of the file: its place among the looks, its bytes, what it says if it is a look."""

    place: int
    raw: bytes
    look: LedgerLook | None
    before: str


class Raw(NamedTuple):
    """The file taken apart: what its first line promises, the lines below it, what is odd."""

    head: dict[str, Any] | None
    lines: tuple[Told, ...]
    body: bytes
    odd: tuple[str, ...]


def read_history(folder: Path) -> Ledger:
    """Read the ledger in a study's folder.

    Parameters
    ----------
    folder : Path
        The study's folder.

    Returns
    -------
    Ledger
        Whatever the file holds: what cannot be read is a flaw, never an error.
    """
    path = folder / HISTORY_FILE
    try:
        if path.is_symlink() or (path.exists() and not path.is_file()):
            return Ledger(there=True, flaws=(f"{HISTORY_FILE} is no plain file and is not read.",))
        if not path.exists():
            return Ledger(there=False)
        with path.open("rb") as f:
            data = f.read(MOST_BYTES + 1)
    except OSError as error:
        return Ledger(
            there=True, flaws=(f"{HISTORY_FILE} cannot be read ({error.strerror or error}).",)
        )
    return ledger_in(data)


def ledger_in(data: bytes) -> Ledger:
    """Return the ledger that some bytes hold, as `read_history` does those of a file."""
    if len(data) > MOST_BYTES:
        return Ledger(
            there=True,
            flaws=(f"{HISTORY_FILE} has more than {MOST_BYTES:,} bytes and is not read.",),
        )
    return ledger_of(take_apart(data))


def digest_line(raw: bytes) -> str:
    """Return the SHA-256 of a line without its end, as the next line holds it."""
    return hashlib.sha256(raw).hexdigest()


def take_apart(data: bytes) -> Raw:
    """Return what the bytes of a ledger hold, line by line."""
    odd = []
    if data.startswith(BOM):
        odd.append("The file begins with a byte-order mark: another program saved it anew.")
        data = data.removeprefix(BOM)
    first, _, rest = data.partition(b"\n")
    head = _object(first.rstrip(b"\r"))
    if head is not None and head.get("schema") == SCHEMA:
        body = rest
    else:
        head, body = None, data
    if b"\r" in data:
        odd.append("Lines end otherwise than they were written: another program saved it anew.")
    if body and not body.endswith(b"\n"):
        odd.append("The last line has no end.")
    lines = [_told(i, x.rstrip(b"\r")) for i, x in enumerate(body.split(b"\n"), 1) if x.strip()]
    return Raw(head=head, lines=tuple(lines), body=body, odd=tuple(odd))


def ledger_of(raw: Raw) -> Ledger:
    """Return the looks of a ledger that was taken apart, and its flaws."""
    by_number: dict[int, Told] = {}
    for x in raw.lines:
        if x.look is not None:
            by_number.setdefault(x.look.number, x)
    looks = tuple(x.look for _, x in sorted(by_number.items()) if x.look is not None)
    kept = [f"{FOUND_EARLIER}{f}" for x in looks for f in x.flaws]
    found = [*_head_flaws(raw, by_number), *_line_flaws(raw), *_chain_flaws(by_number)]
    flaws = tuple(dict.fromkeys([*found, *kept]))
    digests = {k: digest_line(x.raw) for k, x in by_number.items()}
    return Ledger(there=True, looks=looks, flaws=flaws, odd=raw.odd, digests=digests)


def _object(raw: bytes) -> dict[str, Any] | None:
    try:
        told = load_json(raw)
    except ValueError:
        return None
    return told if isinstance(told, dict) else None


def _told(place: int, raw: bytes) -> Told:
    told = _object(raw)
    try:
        look = None if told is None else look_of(told)
    except ValueError:
        look = None
    before = "" if told is None else str(told.get("before", ""))
    return Told(place=place, raw=raw, look=look, before=before)


def promised_by(head: dict[str, Any] | None) -> tuple[int, str] | None:
    """Return how many looks the first line promises and the digest of the last; None if neither."""
    looks, last = (None, None) if head is None else (head.get("looks"), head.get("last"))
    if isinstance(looks, int) and not isinstance(looks, bool) and isinstance(last, str):
        return looks, last
    return None


def _head_flaws(raw: Raw, by_number: dict[int, Told]) -> Iterator[str]:
    """Yield where the first line promises other looks than there are."""
    promised = promised_by(raw.head)
    if promised is None:
        yield "The first line, which says how many looks there are, is missing or changed."
    n, last = promised or (max(by_number, default=0), "")
    more = sorted(k for k in by_number if k > n)
    if more:
        yield f"{_looks(more)} {'was' if len(more) == 1 else 'were'} added by something else."
    missing = [k for k in range(1, min(n, len(by_number) + 10_000) + 1) if k not in by_number]
    if missing:
        yield f"{_looks(missing)} {'is' if len(missing) == 1 else 'are'} missing."
    if promised and n in by_number and digest_line(by_number[n].raw) != last:
        yield f"Look {n}, the last, was changed after it was written."


def _line_flaws(raw: Raw) -> Iterator[str]:
    """Yield lines that are no look, that stand twice or that stand out of order."""
    for x in raw.lines:
        if x.look is None:
            yield f"Line {x.place} below the first cannot be read as a look."
    numbers = [x.look.number for x in raw.lines if x.look is not None]
    twice = sorted(k for k, times in Counter(numbers).items() if times > 1)
    if twice:
        yield f"{_looks(twice)} {'stands' if len(twice) == 1 else 'stand'} there more than once."
    if list(dict.fromkeys(numbers)) != sorted(set(numbers)):
        yield "The looks are not in the order in which they were written."


def _chain_flaws(by_number: dict[int, Told]) -> Iterator[str]:
    """Yield looks that the next one does not know as they now stand."""
    if 1 in by_number and by_number[1].before:
        yield "Look 1 names a look before it, which is not there."
    for k in sorted(by_number):
        if k + 1 in by_number and by_number[k + 1].before != digest_line(by_number[k].raw):
            yield f"Look {k} was changed after it was written, or look {k + 1} was put there."


def _looks(numbers: list[int]) -> str:
    shown = [str(k) for k in numbers[:5]]
    if len(numbers) > 5:
        return f"{count(len(numbers), 'look')} (the first is look {shown[0]})"
    return f"Look{'' if len(numbers) == 1 else 's'} {listed(shown)}"
