"""What is said where records give nothing to study: the audit stopped it, or no row is left."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fleetstats.core.errors import RecordError
from fleetstats.vocabulary.findings import FILE_FINDINGS
from fleetstats.vocabulary.wording import count, listed


def stop_at(codes: Mapping[str, int], shown: Iterable[str], name: str = "") -> RecordError:
    """Return the error that says at which findings an audit stopped a study.

    Parameters
    ----------
    codes : mapping of str to int
        Kinds of findings that stop it, with how many there are of each.
    shown : iterable of str
        Findings as they are told, a line each.
    name : str
        The study's; blank where it is told by whoever asks.
    """
    study = f"the study {name}" if name else "the study"
    lines = "\n".join(f"  {line}" for line in shown)
    may = ", ".join(sorted(c for c in codes if c not in FILE_FINDINGS))
    cure = f", or say under [treat] in study.toml what to do with: {may}" if may else ""
    return RecordError(
        f"The audit stopped {study} at {count(sum(codes.values()), 'finding')}:\n{lines}\n",
        f"Correct the records{cure}.",
    )


def nothing_left(files: Mapping[str, int]) -> RecordError:
    """Return the error that says that no life is left, by the rows read of each file."""
    if not any(files.values()):
        names = listed([f"'{f}'" for f in files])
        have = "has" if len(files) == 1 else "have"
        return RecordError(
            f"{names} {have} a header and no row: there is nothing to study.",
            "Was the right file named?",
        )
    return RecordError(
        "No life is left to study: every row was set aside or excluded.",
        "See 'fleetstats check' for the reasons.",
    )
