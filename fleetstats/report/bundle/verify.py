"""Run a bundle again and say, figure by figure, what agrees and what was altered."""

from __future__ import annotations

import json
import math
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fleetstats.core.errors import FleetstatsError
from fleetstats.core.provenance import installed_versions
from fleetstats.core.units import text_number
from fleetstats.core.value import Value, value
from fleetstats.document.cells import plain_text
from fleetstats.report.bundle.pack import report_members
from fleetstats.report.bundle.unpack import Unpacked, unpack_bundle
from fleetstats.study.study import read_study

TOLERANCE = 1e-6
"""Relative difference up to which two runs on unlike machines agree; results of optimisers and
quadrature move in the last digits with the versions of the libraries. Alike versions are expected
to agree to the bit, and the count says how many do."""

MOST_SHOWN = 20


@value
class Difference(Value):
    """One figure that differs: its path in ``results.json``, as bundled and as run now."""

    path: str
    bundled: str
    now: str
    relative: float | None


@value
class Verification(Value):
    """What verifying a bundle found.

    Parameters
    ----------
    verdict : str
        ``"agrees"``, ``"altered"`` (bytes are not as listed, or the list is not the one expected),
        ``"differs"`` (bytes are as listed, but the run gives other figures) or ``"cannot-run"``.
    digest : str
        SHA-256 of the bundle's list.
    n_figures, n_equal, n_within : int
        Figures compared; equal to the bit; different, but within `tolerance`.
    differences : tuple of Difference
        All others.
    versions : tuple of str
        Libraries whose versions differ, with both versions.
    wrapped_alike : bool
        Whether the zip around the files is to the byte as it would be packed here; where it is not,
        its own headers were changed, or it was packed anew or by another version.
    departures : tuple of str
        What was chosen in reading files that are not in the bundle, as its maker tells it.
    faces_equal : bool or None
        Whether every file of the report is the same to the byte; None when not run.
    """

    verdict: str
    name: str
    digest: str
    altered: tuple[str, ...]
    missing: tuple[str, ...]
    extra: tuple[str, ...]
    tolerance: float
    n_figures: int = 0
    n_equal: int = 0
    n_within: int = 0
    differences: tuple[Difference, ...] = ()
    versions: tuple[str, ...] = ()
    wrapped_alike: bool = True
    faces_equal: bool | None = None
    faces_differing: tuple[str, ...] = ()
    trouble: str = ""
    departures: tuple[str, ...] = ()

    def __repr__(self) -> str:
        head = {
            "agrees": "Agrees: the bundle is unaltered and gives the same figures again.",
            "altered": "ALTERED: the bundle is not what its list says.",
            "differs": "DIFFERS: the bytes are as listed, but a new run gives other figures.",
            "cannot-run": "CANNOT BE RUN: no figure could be checked.",
        }[self.verdict]
        lines = [head, f"Bundle of '{self.name}', list digest {self.digest}"]
        for word, names in (
            ("altered", self.altered), ("missing", self.missing), ("not listed", self.extra)
        ):  # fmt: skip
            lines += [f"  {word}: {n}" for n in names]
        if self.trouble:
            lines.append(f"  {self.trouble}")
        if self.departures:
            lines.append("Its lives were made from files that stayed at home, by these choices:")
            lines += [f"  {d}" for d in self.departures]
        if self.n_figures:
            lines.append(
                f"{self.n_figures:,} figures: {self.n_equal:,} equal to the bit, "
                f"{self.n_within:,} within {self.tolerance:g}, {len(self.differences):,} differ."
            )
        for d in self.differences[:MOST_SHOWN]:
            by = "" if d.relative is None else f" (by {text_number(d.relative)} of it)"
            lines.append(f"  {d.path}: bundled {d.bundled}, now {d.now}{by}")
        if len(self.differences) > MOST_SHOWN:
            lines.append(f"  … and {len(self.differences) - MOST_SHOWN} more (--json lists all)")
        if not self.wrapped_alike:
            lines.append(
                "The zip around the files is not to the byte as it would be packed here: changed, "
                "packed anew, or packed by another version."
            )
        lines += [f"  other version here: {v}" for v in self.versions]
        if self.faces_equal is not None:
            lines.append(
                "Page, PDF, tables and figures: the same to the byte."
                if self.faces_equal
                else "Not the same to the byte: " + ", ".join(self.faces_differing[:8])
            )
        return "\n".join(lines)


def verify_bundle(
    path: Path, *, tolerance: float = TOLERANCE, expect: str | None = None
) -> Verification:
    """Check every byte of a bundle, run its study again, compare every figure.

    Parameters
    ----------
    path : Path
        The zip.
    tolerance : float
        Relative difference up to which figures agree.
    expect : str, optional
        Digest of the bundle's list as its maker published it.

    Raises
    ------
    ReportError
        If the file is no bundle or was refused as unsafe.
    """
    bundle = unpack_bundle(path)
    common: dict[str, Any] = {
        "name": bundle.name, "digest": bundle.digest, "altered": bundle.altered,
        "missing": bundle.missing, "extra": bundle.extra, "tolerance": tolerance,
        "wrapped_alike": bundle.wrapped_alike,
        "departures": _departures(bundle.listed.get("origin")),
        "versions": _other_versions(bundle.listed.get("environment")),
    }  # fmt: skip
    wrong_list = expect is not None and expect.lower() != bundle.digest
    if wrong_list:
        common["trouble"] = f"The list's digest is not the one expected ({expect})."
    try:
        fresh = _run_again(bundle)
        before = json.loads(bundle.members["report/results.json"])
    except FleetstatsError as error:
        return _no_run(bundle, wrong_list, common, str(error))
    except OSError as error:
        why = f"Its study cannot be laid out here ({error.strerror})."
        return _no_run(bundle, wrong_list, common, why)
    except (KeyError, ValueError):
        return _no_run(bundle, wrong_list, common, "Its results.json is missing or no JSON.")
    now = json.loads(fresh["results.json"])
    compared = compare_figures(before, now, tolerance=tolerance)
    faces = tuple(sorted(k for k, v in fresh.items() if bundle.members.get(f"report/{k}") != v))
    verdict = "agrees"
    if compared[2]:
        verdict = "differs"
    if not bundle.intact or wrong_list:
        verdict = "altered"
    return Verification(
        verdict=verdict,
        n_figures=compared[0] + compared[1] + len(compared[2]),
        n_equal=compared[0],
        n_within=compared[1],
        differences=compared[2],
        faces_equal=not faces,
        faces_differing=faces,
        **common,
    )


def _no_run(bundle: Unpacked, wrong_list: bool, common: dict[str, Any], why: str) -> Verification:
    common["trouble"] = " ".join(t for t in (common.get("trouble", ""), why) if t)
    verdict = "cannot-run" if bundle.intact and not wrong_list else "altered"
    return Verification(verdict=verdict, **common)


def _run_again(bundle: Unpacked) -> dict[str, bytes]:
    with tempfile.TemporaryDirectory(prefix="fleetstats-verify-") as place:
        folder = Path(place) / bundle.name
        for name, data in bundle.members.items():
            if name.startswith("study/"):
                target = folder.joinpath(*name.split("/")[1:])
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(data)
        return report_members(read_study(folder), bundle.name)[1]


def _other_versions(bundled: object) -> tuple[str, ...]:
    if not isinstance(bundled, dict):
        return ("the bundle does not say with which versions it was made",)
    here = installed_versions()
    return tuple(
        f"{k} {bundled.get(k, 'unknown')} in the bundle, {here.get(k, 'not installed')} here"
        for k in sorted(set(bundled) | set(here))
        if bundled.get(k) != here.get(k)
    )


def _departures(origin: object) -> tuple[str, ...]:
    """Return the choices that a bundle's list tells of; whatever else stands there is none."""
    told = origin.get("departures") if isinstance(origin, dict) else None
    out = []
    for d in told if isinstance(told, list) else ():
        if isinstance(d, dict) and d.get("said"):
            effect = f": {d['effect']}" if d.get("effect") else ""
            out.append(plain_text(f"{d['said']}{effect}"))
    return tuple(out)


def compare_figures(
    before: Any, now: Any, *, tolerance: float
) -> tuple[int, int, tuple[Difference, ...]]:
    """Compare two results leaf by leaf: how many equal, how many within tolerance, which differ.

    Versions of libraries are left out; they are told apart elsewhere.
    """
    old, new = dict(_leaves(before)), dict(_leaves(now))
    equal = within = 0
    out: list[Difference] = []
    for path in dict.fromkeys([*old, *new]):
        if path.startswith("provenance.versions."):
            continue
        a, b = old.get(path, "absent"), new.get(path, "absent")
        if type(a) is type(b) and a == b:
            equal += 1
            continue
        gap = _gap(a, b)
        if gap is not None and gap <= tolerance:
            within += 1
        else:
            out.append(Difference(path=path, bundled=str(a)[:80], now=str(b)[:80], relative=gap))
    return equal, within, tuple(out)


def _gap(a: object, b: object) -> float | None:
    for x in (a, b):
        if isinstance(x, bool) or not isinstance(x, int | float):
            return None
    assert isinstance(a, int | float)
    assert isinstance(b, int | float)
    if not (math.isfinite(a) and math.isfinite(b)):
        return None
    return 0.0 if a == b else abs(a - b) / max(abs(a), abs(b))


def _leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        if not value:
            yield path, "{}"
        for k, v in value.items():
            yield from _leaves(v, f"{path}.{k}" if path else str(k))
    elif isinstance(value, list):
        yield f"{path}.length", len(value)
        for i, v in enumerate(value):
            yield from _leaves(v, f"{path}[{i}]")
    else:
        yield path, value
