"""What verbs that sign and verify share: keys and passphrases from files or from the prompt."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleetstats.core.errors import SettingError

if TYPE_CHECKING:
    from fleetstats.report.bundle.keys import SigningKey

MOST_BYTES = 10_000


def key_to_sign(path: Path, passphrase_file: Path | None) -> SigningKey:
    """Read a private key; its passphrase comes from a file or, where there is none, is asked."""
    from fleetstats.report.bundle.keys import read_signing_key

    def passphrase() -> str:
        if passphrase_file is not None:
            return _first_line(passphrase_file)
        told: str = click.prompt(f"Passphrase of {path.name}", hide_input=True, err=True)
        return told

    return read_signing_key(path, passphrase)


def _first_line(path: Path) -> str:
    try:
        with path.open("rb") as f:
            return f.read(MOST_BYTES).decode("utf-8").partition("\n")[0].rstrip("\r")
    except (OSError, UnicodeDecodeError):
        raise SettingError(
            f"The passphrase file '{path.name}' cannot be read.",
            "Its first line is the passphrase, as UTF-8.",
        ) from None
