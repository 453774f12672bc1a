"""The chain of declarations read: every version, or an error with the place where it is broken.

Each version holds the digest of the one before and its own; the file ends with that of the last. So
a version that was edited, taken out, put in or moved is found. Whoever writes all digests anew is
not found from the file alone: a bundle or a signature made before tells the chain as it was.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import field
from pathlib import Path
from typing import Any

from fleetstats.core.errors import SettingError
from fleetstats.core.value import Value, value
from fleetstats.study.declared.content import Declarable
from fleetstats.study.history.look import canonical

DECLARED_FILE = "declared.json"
SCHEMA = "fleetstats/declared/1"
MOST_BYTES = 2**22
"""A larger file is no chain of declarations; a version takes some kilobytes."""

KINDS: dict[str, type] = {
    "number": int, "before": str, "declared": str, "looks": int, "looks_at_these": int,
    "last_look": str, "records": dict, "settings": dict, "serials": dict, "digest": str,
}  # fmt: skip
"""What a version holds, in the order in which it is written."""


@value
class Declaration(Value):
    """One version of what was declared.

    Parameters
    ----------
    number : int
        From 1.
    before : str
        Digest of the version before; blank for the first.
    declared : str
        Day on which it was declared, by the clock of the machine, as ``2026-03-31``.
    looks, looks_at_these : int
        Number of the last look that the ledger then held; how many of them saw records up to the
        date that any version until then names, or later.
    last_look : str
        Digest of the last line of the ledger; blank where it held none.
    records : dict
        SHA-256 of each record file that then lay in the folder, by its name.
    settings, serials : dict
        What is declared; see `Declarable`.
    digest : str
        SHA-256 of all that.
    """

    number: int
    before: str
    declared: str
    looks: int
    looks_at_these: int
    last_look: str
    records: dict[str, str] = field(default_factory=dict)
    settings: dict[str, Any] = field(default_factory=dict)
    serials: dict[str, Any] = field(default_factory=dict)
    digest: str = ""

    @property
    def content(self) -> Declarable:
        """Return what it declares."""
        return Declarable(settings=self.settings, serials=self.serials)


def read_declared(folder: Path) -> tuple[Declaration, ...]:
    """Read the declarations in a study's folder, the first version first; empty without any.

    Raises
    ------
    SettingError
        If the file is not as it was written, with the version at which it is broken.
    """
    path = folder / DECLARED_FILE
    try:
        if not path.exists() and not path.is_symlink():
            return ()
        if path.is_symlink() or not path.is_file():
            raise broken("", "it is no plain file")
        with path.open("rb") as f:
            data = f.read(MOST_BYTES + 1)
    except OSError as error:
        raise broken("", f"it cannot be read ({error.strerror or error})") from None
    return declared_in(data)


def declared_in(data: bytes) -> tuple[Declaration, ...]:
    """Return the versions that a file holds; raises SettingError as `read_declared`."""
    if len(data) > MOST_BYTES:
        raise broken("", f"it has more than {MOST_BYTES:,} bytes")
    try:
        told = json.loads(data.decode("utf-8"), parse_constant=_refuse, object_pairs_hook=_once)
    except (ValueError, RecursionError) as error:
        raise broken("", f"it is no JSON of ours ({str(error)[:80]})") from None
    if not isinstance(told, dict) or told.get("schema") != SCHEMA:
        raise broken("", f"its schema is not {SCHEMA}")
    versions = told.get("versions")
    if not isinstance(versions, list) or not versions:
        raise broken("", "it holds no version")
    out: list[Declaration] = []
    for place, one in enumerate(versions, start=1):
        out.append(_version(place, one, out[-1] if out else None))
    if told.get("last") != out[-1].digest:
        raise broken("", f"it ends with version {len(out)}, and that is not its last: one is gone")
    if text_of(out) != data.replace(b"\r\n", b"\n").removeprefix(b"\xef\xbb\xbf"):
        raise broken("", "it holds more than was written, or is laid out anew")
    return tuple(out)


def text_of(versions: list[Declaration]) -> bytes:
    """Return the file that holds some versions; there is one way to write it."""
    told = {
        "schema": SCHEMA,
        "versions": [{k: getattr(v, k) for k in KINDS} for v in versions],
        "last": versions[-1].digest,
    }
    return (json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def digest_of(version: Declaration) -> str:
    """Return the SHA-256 of all that a version holds but its own digest."""
    held = {k: getattr(version, k) for k in KINDS if k != "digest"}
    return hashlib.sha256(canonical(held).encode()).hexdigest()


def broken(place: str, what: str) -> SettingError:
    """Return the error that says where the chain is broken."""
    return SettingError(
        f"{DECLARED_FILE}{place}: {what}.",
        "The declaration is not as it was written; put the file back from a copy, as from an "
        "earlier bundle.",
    )


def _version(place: int, told: Any, last: Declaration | None) -> Declaration:
    at = f", version {place}"
    if not isinstance(told, dict) or set(told) != set(KINDS):
        raise broken(at, "it does not hold what a version holds")
    for name, kind in KINDS.items():
        if not isinstance(told[name], kind) or isinstance(told[name], bool):
            raise broken(at, f"its '{name}' is none")
    wrong = _wrong_inside(told)
    if wrong:
        raise broken(at, f"its '{wrong}' is none")
    try:
        out = Declaration(**told)
        digest = digest_of(out)
    except (ValueError, RecursionError):
        raise broken(at, "it holds what no text can hold") from None
    if digest != out.digest:
        raise broken(at, "it was changed after it was written")
    if out.before != ("" if last is None else last.digest) or out.number != place:
        raise broken(at, "the version before it is not the one that it names")
    try:
        day = dt.date.fromisoformat(out.declared)
    except ValueError:
        raise broken(at, f"its day '{out.declared[:20]}' is none") from None
    if last is not None and day < dt.date.fromisoformat(last.declared):
        raise broken(at, "it is older than the version before it")
    return out


def _wrong_inside(told: dict[str, Any]) -> str:
    """Return the first part of a version that holds what such a part cannot; blank if none does."""
    for name in ("number", "looks", "looks_at_these"):
        if not 0 <= told[name] <= MOST_BYTES:
            return name
    if not all(isinstance(x, str) for x in told["records"].values()):
        return "records"
    s = told["serials"]
    kinds = {"file": str, "sha256": str, "count": int}
    if s and (set(s) != set(kinds) or not all(isinstance(s[k], t) for k, t in kinds.items())):
        return "serials"
    return "" if not s or 0 <= s["count"] <= MOST_BYTES else "serials"


def _refuse(word: str) -> None:
    raise ValueError(f"{word} is no number")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    out = dict(pairs)
    if len(out) < len(pairs):
        raise ValueError("a key stands twice")
    return out
