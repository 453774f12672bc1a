"""Signatures over a bundle's list: Ed25519, with OpenSSH's keys and in its open format.

The list names every byte of a bundle, so who signs it signs them all. What is signed is the list's
bytes under a namespace of our own, so that no signature made for another purpose fits; the form is
SSHSIG (OpenSSH, PROTOCOL.sshsig), so that `ssh-keygen -Y verify` judges it without us. Signatures
of this kind hold no chance: the same key and list give the same bytes.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import struct
from pathlib import Path

from fleetstats.core.errors import SettingError
from fleetstats.core.value import Value, value
from fleetstats.report.bundle.keys import KIND, PublicKey, SigningKey, key_of_blob

SIGNATURE = "bundle.sig"
"""The member that holds the signature; it is no part of the list that it signs."""

BESIDE = ".sig"
"""What the detached signature's name adds to the bundle's."""

NAMESPACE = "fleetstats-bundle"
"""What a signature is for; one made for anything else does not verify here."""

MAGIC = b"SSHSIG"
VERSION = 1
HASHES = {"sha256": hashlib.sha256, "sha512": hashlib.sha512}
HASH = "sha512"
HEAD, TAIL = "-----BEGIN SSH SIGNATURE-----", "-----END SSH SIGNATURE-----"
WIDTH = 70
"""Letters to a line of the armour, as ssh-keygen writes it."""
MOST_BYTES = 10_000


@value
class Seal(Value):
    """What one signature says of a bundle's list.

    Parameters
    ----------
    where : str
        The member or file that holds it.
    key : str
        Fingerprint of the key that it names; blank where it names none.
    state : {"good", "bad", "unreadable"}
        Whether it is that key's signature over this list.
    why : str
        What is wrong with it, as a sentence; blank where nothing is.
    given : bool
        Whether the key is one of those that the verifier gave.
    comment : str
        What stands beside the key in the file that the verifier gave.
    """

    where: str
    key: str
    state: str
    why: str = ""
    given: bool = False
    comment: str = ""

    @property
    def vouches(self) -> bool:
        """Return whether a key that the verifier gave signed this very list."""
        return self.state == "good" and self.given


def sign_list(text: bytes, key: SigningKey) -> bytes:
    """Return the signature over a bundle's list, armoured; the same bytes for the same two."""
    blob = key.public.blob
    signature = _string(KIND.encode()) + _string(key.sign(_signed(text, NAMESPACE, HASH)))
    return _armour(
        MAGIC + struct.pack(">I", VERSION) + _string(blob) + _string(NAMESPACE.encode())
        + _string(b"") + _string(HASH.encode()) + _string(signature)
    )  # fmt: skip


def judge_seals(
    text: bytes,
    inside: bytes | None,
    detached: tuple[str, bytes] | None = None,
    by: tuple[PublicKey, ...] | None = None,
) -> tuple[Seal, ...]:
    """Judge the signature in a bundle and the one beside it; each may be missing."""
    out = []
    if inside is not None:  # a member of ours, so to the byte as we write it
        out.append(judge_seal(inside, text, where=SIGNATURE, by=by, exact=True))
    if detached is not None:
        out.append(judge_seal(detached[1], text, where=detached[0], by=by))
    return tuple(out)


def judge_seal(
    data: bytes,
    text: bytes,
    *,
    where: str,
    by: tuple[PublicKey, ...] | None = None,
    exact: bool = False,
) -> Seal:
    """Judge a signature over a list.

    Parameters
    ----------
    data : bytes
        The signature, armoured.
    text : bytes
        The list that it should be of.
    where : str
        The member or file that holds it.
    by : tuple of PublicKey, optional
        Keys that the verifier trusts.
    exact : bool
        Whether line feeds must be as we write them; a file may have come by another system.
    """
    try:
        key, namespace, hashed, signature = _parts(_raw(data, exact=exact))
    except ValueError as error:
        return Seal(where=where, key="", state="unreadable", why=f"{where} {error}.")
    known = next((k for k in by or () if k.blob == key.blob), None)
    wrong = ""
    if namespace != NAMESPACE:
        wrong = f"{where} was made for another purpose than a bundle."
    elif not key.verifies(signature, _signed(text, namespace, hashed)):
        wrong = f"{where} is no signature of this list by the key that it names, {key.fingerprint}."
    return Seal(
        where=where,
        key=key.fingerprint,
        state="bad" if wrong else "good",
        why=wrong,
        given=known is not None,
        comment="" if known is None else known.comment,
    )


def read_signature(path: Path) -> bytes:
    """Return a detached signature as it stands in its file.

    Raises
    ------
    SettingError
        If the file cannot be read or holds no signature of this form.
    """
    right = f"It begins with '{HEAD}'; 'fleetstats bundle --sign' writes one as NAME.zip{BESIDE}."
    try:
        with path.open("rb") as f:
            data = f.read(MOST_BYTES + 1)
        _parts(_raw(data))
    except OSError as error:
        raise SettingError(
            f"The signature '{path.name}' cannot be read: {error.strerror or error}.", right
        ) from None
    except ValueError as error:
        raise SettingError(f"The signature file '{path.name}' {error}.", right) from None
    return data


def _signed(text: bytes, namespace: str, hashed: str) -> bytes:
    return (
        MAGIC + _string(namespace.encode()) + _string(b"") + _string(hashed.encode())
        + _string(HASHES[hashed](text).digest())
    )  # fmt: skip


def _string(data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + data


def _armour(raw: bytes) -> bytes:
    text = base64.b64encode(raw).decode()
    lines = [text[i : i + WIDTH] for i in range(0, len(text), WIDTH)]
    return ("\n".join([HEAD, *lines, TAIL]) + "\n").encode()


def _raw(data: bytes, *, exact: bool = False) -> bytes:
    """Return what the armour holds; it must be written in the one way there is."""
    if len(data) > MOST_BYTES:
        raise ValueError("is too long for a signature")
    text = data.replace(b"\r\n", b"\n").strip(b"\n") + b"\n"
    lines = text.split(b"\n")
    if lines[0] != HEAD.encode() or lines[-2] != TAIL.encode():
        raise ValueError("holds no signature in OpenSSH's form")
    try:
        raw = base64.b64decode(b"".join(lines[1:-2]), validate=True)
    except (binascii.Error, ValueError):
        raise ValueError("holds letters that no signature has") from None
    if _armour(raw) != (data if exact else text):
        raise ValueError("is not written as signatures are")
    return raw


def _parts(raw: bytes) -> tuple[PublicKey, str, str, bytes]:
    """Return key, namespace, name of the hash and signature; raises ValueError with what is wrong.

    Source: OpenSSH, PROTOCOL.sshsig; the signature itself as in RFC 8709.
    """
    if raw[:6] != MAGIC or raw[6:10] != struct.pack(">I", VERSION):
        raise ValueError("is of another version of the form")
    blob, rest = _take(raw[10:])
    namespace, rest = _take(rest)
    _reserved, rest = _take(rest)
    hashed, rest = _take(rest)
    held, rest = _take(rest)
    kind, tail = _take(held)
    signature, more = _take(tail)
    if rest or more or _reserved:
        raise ValueError("holds more than a signature")
    key = key_of_blob(blob)
    if kind != KIND.encode():
        raise ValueError(f"is not of the kind {KIND}")
    name = hashed.decode("ascii", "replace")
    if name not in HASHES:
        raise ValueError("is over another kind of digest than sha256 or sha512")
    return key, namespace.decode("utf-8", "replace"), name, signature


def _take(raw: bytes) -> tuple[bytes, bytes]:
    if len(raw) < 4 or len(raw) - 4 < (n := struct.unpack(">I", raw[:4])[0]):
        raise ValueError("ends too early")
    return raw[4 : 4 + n], raw[4 + n :]
