"""A look added to the ledger: whole or not at all, and by one run at a time."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

from fleetstats.core.errors import SettingError
from fleetstats.core.files import alone_in, write_whole
from fleetstats.core.value import Value, value
from fleetstats.study.history.chain import (
    FOUND_EARLIER,
    HISTORY_FILE,
    MOST_BYTES,
    SCHEMA,
    Ledger,
    Raw,
    digest_line,
    ledger_of,
    promised_by,
    read_history,
    take_apart,
)
from fleetstats.study.history.look import LedgerLook
from fleetstats.vocabulary.capitals import small

MOST_LOST = 10_000
"""Looks that may be missing at the end; a first line that promises more is not believed."""

MOST_FLAWS = 20
"""Flaws that a line keeps of the ledger as it was found."""


@value
class Appended(Value):
    """What became of a look that was to be written down.

    Parameters
    ----------
    state : str
        ``"written"``; ``"again"``, the same look stands there already; ``"not-written"``.
    number : int
        Number of its line; 0 where it was not written.
    sentence : str
        What a person is told; blank where all went as it should.
    flaws : tuple of str
        What was wrong with the ledger as it was found.
    """

    state: str
    number: int = 0
    sentence: str = ""
    flaws: tuple[str, ...] = ()


def append_look(folder: Path, look: LedgerLook, *, today: dt.date | None = None) -> Appended:
    """Add a look to the ledger in a study's folder; one that stands there already is not added.

    Two runs at once wait for each other where the system has locks on folders. What was wrong with
    the ledger is kept in the new line, so that adding to it heals nothing.

    Parameters
    ----------
    folder : Path
        The study's folder.
    look : LedgerLook
        Its number, day and flaws are set here.
    today : date, optional
        Day to write; by default the clock's, in universal time.

    Returns
    -------
    Appended
        A folder that cannot be written to is said there; nothing is raised.
    """
    path = folder / HISTORY_FILE
    try:
        with alone_in(folder):
            found = read_history(folder)
            if path.is_symlink() or (found.there and not path.is_file()):
                return _refused("it is no plain file", found)
            data = path.read_bytes() if found.there else b""
            if len(data) > MOST_BYTES:
                return _refused("the file is too large", found)
            raw = take_apart(data)
            found = ledger_of(raw) if found.there else found
            for earlier in found.looks:
                if earlier.is_again(look):
                    return Appended(state="again", number=earlier.number, flaws=found.flaws)
            last = max(found.looks, key=lambda x: x.number, default=None)
            told = _line(look, _next(raw, last), found, today or dt.datetime.now(dt.UTC).date())
            before = _last_raw(raw, last)
            line = _text(told | {"before": "" if before is None else digest_line(before)})
            body = raw.body if not raw.body or raw.body.endswith(b"\n") else raw.body + b"\n"
            head = {"schema": SCHEMA, "looks": told["number"], "last": digest_line(line)}
            write_whole(path, _text(head) + b"\n" + body + line + b"\n")
    except OSError as error:
        return _refused(small(error.strerror or str(error)), Ledger(there=False))
    sentence = "" if not found.flaws else (
        f"{HISTORY_FILE} is not as it was written: {' '.join(found.flaws[:3])}"
    )  # fmt: skip
    return Appended(state="written", number=told["number"], sentence=sentence, flaws=found.flaws)


def copy_history(old: Path, new: Path) -> Ledger:
    """Copy the ledger of one study's folder into another that has none, byte for byte.

    Raises
    ------
    SettingError
        If the other folder has one already, or the ledger cannot be copied.
    """
    ledger = read_history(old)
    if not ledger.there:
        return ledger
    try:
        write_whole(new / HISTORY_FILE, (old / HISTORY_FILE).read_bytes(), replace=False)
    except OSError as error:
        raise SettingError(
            f"The earlier looks cannot be copied to '{new / HISTORY_FILE}' "
            f"({error.strerror or error}).",
            "Name a folder that has none yet and that you may write to.",
        ) from None
    return ledger


def _next(raw: Raw, last: LedgerLook | None) -> int:
    """Return the number of a new line; those of looks that are missing are not given again."""
    held = 0 if last is None else last.number
    promised = promised_by(raw.head)
    lost = 0 if promised is None or promised[0] > held + MOST_LOST else promised[0]
    return max(held, lost) + 1


def _line(look: LedgerLook, number: int, found: Ledger, day: dt.date) -> dict[str, Any]:
    known = {f for x in found.looks for f in x.flaws}
    fresh = [f for f in found.flaws if f not in known and not f.startswith(FOUND_EARLIER)]
    look = replace(look, number=number, written=day.isoformat(), flaws=tuple(fresh[:MOST_FLAWS]))
    return {
        "number": look.number,
        "before": "",
        "written": look.written,
        **look.content,
        **({"flaws": list(look.flaws)} if look.flaws else {}),
    }


def _last_raw(raw: Raw, last: LedgerLook | None) -> bytes | None:
    if last is None:
        return None
    return next(x.raw for x in raw.lines if x.look is not None and x.look.number == last.number)


def _text(told: dict[str, Any]) -> bytes:
    return json.dumps(told, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()


def _refused(why: str, found: Ledger) -> Appended:
    return Appended(
        state="not-written",
        sentence=f"This look was not written down in {HISTORY_FILE} ({why}); looks that nobody "
        "counts make a later “supported” weaker than it says.",
        flaws=found.flaws,
    )
