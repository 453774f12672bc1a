"""What verbs that answer on a study's records share: the look goes into the study's ledger."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from fleetstats.cli.options import say

if TYPE_CHECKING:
    from fleetstats.study.history import LedgerLook

F = TypeVar("F", bound=Callable[..., Any])


def history_option(function: F) -> F:
    """Add --no-history, which leaves the study's ledger of looks as it is."""
    return click.option(
        "--no-history", is_flag=True, envvar="FLEETSTATS_NO_HISTORY", show_envvar=True,
        help="Do not write this look down in the study's history.jsonl.",
    )(function)  # fmt: skip


def note_look(folder: Path, look: LedgerLook, *, quiet: bool) -> None:
    """Add a look to the ledger in the study's folder, and say what keeps it out or is wrong."""
    from fleetstats.study.history import append_look

    noted = append_look(folder, look)
    if noted.sentence:
        say(noted.sentence, quiet=quiet)
