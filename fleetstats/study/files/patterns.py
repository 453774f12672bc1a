"""Several files as one record file: a folder, or a pattern such as ``returns-*.csv``."""

from __future__ import annotations

import re
from pathlib import Path, PurePosixPath

from fleetstats.core.doors.globs import find_files
from fleetstats.study.schema import show
from fleetstats.vocabulary.nearest import did_you_mean

MARKS = frozenset("*?[")
"""What makes a name a pattern: any text, any one character, one of some."""

KEY_FOLDER = re.compile(r"^[^=]+=")
"""How a folder is called that stands for the value of a column which its files do not hold."""


def is_pattern(name: str) -> bool:
    """Return whether a name stands for several files: a folder ends in a slash."""
    return bool(MARKS & set(name)) or name.endswith("/")


def matching(name: str, folder: Path, where: str, problems: list[str]) -> list[str]:
    """Return the files of a study that a pattern means, by name, in the order of their names.

    Parameters
    ----------
    name : str
        The pattern, as the study file gives it: with forward slashes, within the study's folder.
    folder : Path
        The study's folder.
    where : str
        The key's path, for messages.
    problems : list of str
        Gets a sentence for whatever is wrong.
    """
    parts = PurePosixPath(name).parts
    if PurePosixPath(name).is_absolute() or ".." in parts or "\\" in name or name.startswith("~"):
        problems.append(
            f"{where} = {show(name)}: must be a pattern within the study's folder, with forward "
            "slashes and without '..'."
        )
        return []
    pattern = f"{name}**/*" if name.endswith("/") else name
    found, more = find_files(folder, pattern)
    if more:
        problems.append(f"{where} = {show(name)}: matches {more}.")
        return []
    if not found:
        there = sorted({p.name for p in folder.glob("*") if not p.name.startswith(".")})[:200]
        near = did_you_mean(name.rstrip("/"), there) if there else "The folder holds no file."
        problems.append(f"{where} = {show(name)}: matches no file. {near[:300]}")
    odd = next((p for n in found for p in PurePosixPath(n).parent.parts if KEY_FOLDER.match(p)), "")
    if odd:
        problems.append(
            f"{where} = {show(name)}: the folder {show(odd)} stands for a column that is not in "
            "its files, and folders' names are not read. Write that column into the files."
        )
        return []
    return found
