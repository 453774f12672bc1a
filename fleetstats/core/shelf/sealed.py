"""A kept result as bytes: what it depends on, the versions that made it, its checksum, itself.

The checksum tells an edited or damaged file. Who may write into the user's own folder could make it
anew, so nothing but our values, arrays, dates and plain collections is ever made of such bytes: no
function that they name is called.
"""

from __future__ import annotations

import datetime as dt
import enum
import hashlib
import io
import json
import pickle
import platform
from dataclasses import dataclass, is_dataclass
from typing import Any

from fleetstats.core.program import PROGRAM, program_digest
from fleetstats.core.provenance import installed_versions, version_of

MARK = b"fleetstats kept result 1\n"

PACKAGE = __name__.partition(".")[0]

READING = ("pyarrow", "openpyxl")
"""Libraries that read records, beside those that compute."""

PLAIN = frozenset(
    {
        ("builtins", "set"),
        ("builtins", "frozenset"),
        ("collections", "Counter"),
        ("collections", "OrderedDict"),
        ("datetime", "date"),
        ("datetime", "datetime"),
        ("datetime", "timedelta"),
        ("numpy", "dtype"),
        ("numpy", "ndarray"),
        ("numpy._core.multiarray", "_reconstruct"),
        ("numpy._core.multiarray", "scalar"),
        ("numpy._core.numeric", "_frombuffer"),
    }
)
"""What may be made of kept bytes beside classes of ours that hold data."""


class Unsealed(ValueError):
    """Bytes that are no kept result, or not the one that was kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed:
    """The bytes of a kept result, taken apart and not yet believed.

    Parameters
    ----------
    about : dict
        What the result depends on, as it was kept.
    versions : dict
        What made it.
    sha256 : str
        Over both and the body.
    body : bytes
    """

    about: dict[str, Any]
    versions: dict[str, str]
    sha256: str
    head: bytes
    body: bytes


def versions_now() -> dict[str, str]:
    """Return the versions of all that computes, the program's own files among them."""
    beside = {name: version_of(name) for name in READING}
    return {
        **installed_versions(), **beside, "machine": platform.machine(), PROGRAM: program_digest()
    }  # fmt: skip


def seal_of(versions: dict[str, str]) -> str:
    """Return the digest of some versions."""
    return hashlib.sha256(json.dumps(versions, sort_keys=True).encode()).hexdigest()


def seal(about: dict[str, Any], result: object) -> bytes:
    """Return a result as bytes to be kept.

    Parameters
    ----------
    about : dict
        What it depends on; plain JSON.
    result : object
        Made of our values, arrays, dates and plain collections.
    """
    head = json.dumps({"about": about, "versions": versions_now()}, sort_keys=True).encode()
    body = pickle.dumps(result, protocol=5)
    return MARK + _checksum(head, body).encode() + b"\n" + head + b"\n" + body


def take_apart(raw: bytes, rest: bytes = b"") -> Sealed:
    """Return the parts of kept bytes; raises `Unsealed` where they are none.

    What follows the lines that say what it is may be given by itself as the `rest`: a long table's
    is not copied then.
    """
    try:
        mark, sha256, head, body = raw.split(b"\n", 3)
        body = body + rest if body else rest
        told = json.loads(head)
        out = Sealed(about=told["about"], versions=told["versions"], sha256=sha256.decode("ascii"),
                     head=head, body=body)  # fmt: skip
    except (ValueError, TypeError, KeyError, RecursionError):
        raise Unsealed("no kept result") from None
    if mark + b"\n" != MARK or type(out.about) is not dict:
        raise Unsealed("no kept result")
    return out


def unseal(sealed: Sealed) -> Any:
    """Return the result, its checksum and versions held against those of today.

    Raises
    ------
    Unsealed
        If it was edited, another version made it, or it holds what no result of ours does.
    """
    if _checksum(sealed.head, sealed.body) != sealed.sha256:
        raise Unsealed("edited or damaged")
    if sealed.versions != versions_now():
        raise Unsealed("of another version")
    try:
        return _Careful(io.BytesIO(sealed.body)).load()
    except MemoryError:
        raise
    except Exception as error:
        raise Unsealed(f"unreadable: {error}") from None


def _checksum(head: bytes, body: bytes) -> str:
    h = hashlib.sha256(head + b"\n")
    h.update(body)
    return h.hexdigest()


class _Careful(pickle.Unpickler):
    """Makes nothing but data."""

    def find_class(self, module: str, name: str) -> Any:
        """Return a class that holds data; nothing else is found."""
        if (module, name) in PLAIN:
            return super().find_class(module, name)
        if module.partition(".")[0] == PACKAGE and "." not in name:
            found = super().find_class(module, name)
            if isinstance(found, type) and found.__module__ == module and _holds_data(found):
                return found
        raise pickle.UnpicklingError(f"{module}.{name} is no data")


def _holds_data(kind: type) -> bool:
    return is_dataclass(kind) or issubclass(kind, enum.Enum | dt.date)
