"""Verify a bundle in a process of its own, under limits of memory and time."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from fleetstats.core.doors.plain_files import kind_of_path
from fleetstats.core.errors import ReportError
from fleetstats.core.fenced import Fence, Fenced, FenceReached, Refused, call_fenced
from fleetstats.core.limits import MIB, most

if TYPE_CHECKING:
    from fleetstats.report.bundle.verify import Verification

REASONS = {
    "memory": "it needed more memory than the limit, {memory}",
    "time": "it was not done within the limit, {seconds}",
    "ended": "the process that verified it died, most likely for want of memory (limit {memory})",
    "error": "an error came up that no bundle of ours causes ({what})",
}


def fence_of_verify() -> Fence:
    """Return the limits of verifying, from the one place of limits."""
    return Fence(
        memory_bytes=most("verify_memory"),
        seconds=most("verify_seconds"),
        file_bytes=most("bundle_bytes"),
    )


def verify_guarded(path: Path, *, fence: Fence | None = None, **how: Any) -> Fenced[Verification]:
    """Verify a bundle as `verify_bundle` does, in a process under limits.

    Parameters
    ----------
    path : Path
        The zip.
    fence : Fence, optional
        Other limits than `fence_of_verify`.
    **how
        As for `verify_bundle`.

    Returns
    -------
    Fenced
        What was found, and which limits this system does not know.

    Raises
    ------
    ReportError
        If the file is no bundle, was refused as unsafe, or came to a limit.
    """
    try:
        kind = kind_of_path(path)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", "") or "it is no path"
        raise ReportError(f"'{path.name}' cannot be opened: {why}.", "Check the name.") from None
    if kind:
        raise ReportError(
            f"'{path.name}' is {kind}, no regular file.", "Copy its contents into a file."
        )
    fence = fence or fence_of_verify()
    try:
        return call_fenced(_verify, str(path), fence=fence, named=how)
    except Refused as error:
        raise ReportError(error.message, error.hint) from None
    except FenceReached as error:
        said = REASONS[error.why].format(
            what=error.message,
            memory=f"{fence.memory_bytes // MIB:,} MiB",
            seconds=f"{fence.seconds} seconds",
        )
        raise ReportError(
            f"'{path.name}' was not verified: {said}.",
            "It must not be relied upon; ask its maker for a bundle that can be run again.",
        ) from None


def _verify(path: str, **how: Any) -> Verification:
    # imported in the other process alone: this one stays light
    from fleetstats.report.bundle.verify import verify_bundle

    return verify_bundle(Path(path), **how)
