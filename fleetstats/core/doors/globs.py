"""Files of a folder by pattern: regular files alone, none outside the folder, not without end."""

from __future__ import annotations

from pathlib import Path

from fleetstats.core.limits import above, most


def find_files(folder: Path, pattern: str) -> tuple[list[str], str]:
    """Return the regular files below a folder that a pattern means.

    Parameters
    ----------
    folder : Path
        Where to look; nothing that a link leads out of it is returned, nor any hidden file.
    pattern : str
        As `Path.glob` reads it.

    Returns
    -------
    (list of str, str)
        Names within the folder with forward slashes, in their order; and, where more match than
        are taken, how many in words.
    """
    root = folder.resolve()
    limit = most("pattern_files")
    found: list[str] = []
    for seen, path in enumerate(root.glob(pattern), start=1):
        if seen > 10 * limit:
            return [], above(seen, "pattern_files")
        name = path.relative_to(root)
        if any(part.startswith((".", "_")) for part in name.parts):
            continue
        if path.is_file() and path.resolve().is_relative_to(root):
            found.append(name.as_posix())
    if len(found) > limit:
        return [], above(len(found), "pattern_files")
    return sorted(found), ""
