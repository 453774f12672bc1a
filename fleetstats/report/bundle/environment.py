"""What the bytes of a bundle depend on besides its inputs: versions of libraries, kind of machine.

Results hang on the libraries that compute; page, paper, workbook and pictures on those that draw as
well; the last digits of a sum on the kind of processor. Alike in all of these, two runs give the
same bytes, so that a byte that differs was changed by somebody.
"""

from __future__ import annotations

import platform
import zlib
from typing import Any

from fleetstats.core.program import PROGRAM, program_digest
from fleetstats.core.provenance import installed_versions, version_of

DRAWING = ("jinja2", "openpyxl", "pillow", "pyarrow", "typst")
"""Libraries that read files or make faces; results are told to depend on the others."""
MOST_CHARACTERS = 60


def environment_here() -> dict[str, str]:
    """Return the versions and the kind of machine that a bundle's bytes depend on.

    Nothing in it names the machine: system, architecture and the widest class of instructions.
    """
    import numpy as np

    out = installed_versions()
    for name in DRAWING:
        out[name] = version_of(name)
    config: Any = np.show_config(mode="dicts")
    found = (config or {}).get("SIMD Extensions", {}).get("found") or ["baseline"]
    out[PROGRAM] = program_digest()
    out["zlib"] = zlib.ZLIB_RUNTIME_VERSION
    out["machine"] = f"{platform.system()} {platform.machine()} {found[-1]}"
    return out


def wrong_in_environment(told: object) -> str:
    """Return what is wrong with a bundle's account of its environment; "" where nothing is."""
    if not isinstance(told, dict) or not told:
        return "it does not say with which versions it was made"
    for k, v in told.items():
        if not isinstance(v, str) or len(v) > MOST_CHARACTERS or not v.isprintable():
            return f"the version of '{k}' is no version"
    missing = sorted(set(installed_versions()) - set(told))
    return f"it does not say the version of {missing[0]}" if missing else ""


def told_versions(told: object) -> dict[str, str] | None:
    """Return the versions that a bundle's report must print; None where it does not tell them."""
    if wrong_in_environment(told) or not isinstance(told, dict):
        return None
    return {k: str(told[k]) for k in installed_versions()}


def other_versions(told: object) -> tuple[str, ...]:
    """Return one sentence for each version that is another here."""
    if not isinstance(told, dict):
        return ("the bundle does not say with which versions it was made",)
    here = environment_here()
    return tuple(
        _other(k, told.get(k, "unknown"), here.get(k, "not installed"))
        for k in sorted(set(told) | set(here))
        if told.get(k) != here.get(k)
    )


def same_program(told: object) -> bool:
    """Return whether this program's version and its own files are those of the bundle."""
    here = environment_here()
    return isinstance(told, dict) and all(told.get(k) == here[k] for k in ("fleetstats", PROGRAM))


def _other(name: str, there: object, here: str) -> str:
    if name == PROGRAM:
        return f"the program's own files, digest {there} in the bundle, {here} here"
    return f"{name} {there} in the bundle, {here} here"
