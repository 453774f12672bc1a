"""Where a result came from: files with their digests, versions, seed, command."""

from __future__ import annotations

import functools
import hashlib
import platform
from importlib import metadata
from pathlib import Path

from fleetstats.core.value import Value, value

LIBRARIES = ("numpy", "scipy", "pandas", "lifelines", "reliability", "matplotlib")


@value
class SourceFile(Value):
    """One input file: name relative to the study, size in bytes, SHA-256, rows read."""

    name: str
    size_bytes: int
    sha256: str
    rows: int


@value
class Provenance(Value):
    """What is needed to make a result again.

    `files` are the records; `study_file` is the study file, whose every byte is in its digest,
    comments included. The report's number goes by its settings, not by its bytes.
    """

    files: tuple[SourceFile, ...]
    versions: dict[str, str]
    seed: int
    command: str
    study_file: SourceFile | None = None


def digest_file(path: Path) -> str:
    """Return the SHA-256 of a file as hexadecimal digits, read in blocks."""
    with path.open("rb") as f:
        return hashlib.file_digest(f, "sha256").hexdigest()


def installed_versions() -> dict[str, str]:
    """Return the versions of Python, of this package and of the libraries that compute."""
    out = {"python": platform.python_version()}
    for name in ("fleetstats", *LIBRARIES):
        out[name] = version_of(name)
    return out


@functools.cache
def version_of(name: str) -> str:
    """Return the version of an installed package; asked of the disk once in a process."""
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "not installed"
