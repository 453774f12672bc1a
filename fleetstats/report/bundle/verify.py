"""Judge every member of a bundle: inputs and figures by a new run, faces by making them again."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fleetstats.chapters.origin import say_account, say_declared_there, say_replaced, say_unlike
from fleetstats.core.errors import FleetstatsError, ReportError
from fleetstats.core.value import Value, value
from fleetstats.report.bundle.environment import other_versions, same_program, told_versions
from fleetstats.report.bundle.faces import (
    OTHER_PROGRAM,
    REPORT,
    RESULTS,
    FacesJudged,
    judge_faces,
)
from fleetstats.report.bundle.figures import TOLERANCE, Difference, compare_figures
from fleetstats.report.bundle.keys import PublicKey
from fleetstats.report.bundle.listing import flaws_of_list
from fleetstats.report.bundle.pack import report_members, study_members
from fleetstats.report.bundle.seal import Seal, judge_seals
from fleetstats.report.bundle.strict import read_strict
from fleetstats.report.bundle.tell import tell_verification
from fleetstats.report.bundle.unpack import Unpacked, lay_out_study, unpack_bundle
from fleetstats.report.bundle.wrapping import wrapped_plainly
from fleetstats.study.origin import parse_origin
from fleetstats.study.study import read_study

GOOD = ("unaltered", "agrees")
"""Verdicts under which every member was judged and none was found changed."""


@value
class Verification(Value):
    """What verifying a bundle found.

    Parameters
    ----------
    verdict : str
        ``"unaltered"``: every member agrees, and the expected digest or a key that was given
        vouches for the list. ``"not-vouched"``: no key that was given signed it.
        ``"agrees"``: every member agrees, and nothing outside vouches for the bundle.
        ``"in-part"``: figures agree, some faces could not be judged with the versions here.
        ``"differs"``: made with other versions, and a new run gives other figures here.
        ``"altered"``: a member, the list or the zip is not what it must be. ``"cannot-run"``: the
        study could not be run.
    digest : str
        SHA-256 of the bundle's list.
    figures_digest : str
        SHA-256 of the bundle's `results.json`, as the brief prints it; blank where there is none.
    altered, missing, extra, doubled : tuple of str
        Members whose bytes are not as listed; listed or needed, and not there; there, and not
        listed or belonging to no bundle of this study; there twice.
    flaws : tuple of str
        What the list says that cannot be so, keys that stand twice, and the like.
    n_figures, n_equal, n_within : int
        Figures compared; equal to the bit; different, but within `tolerance`.
    differences : tuple of Difference
        All others.
    versions : tuple of str
        Versions, or the kind of machine, that are others here.
    wrapped_alike : bool
        Whether the zip around the files is to the byte as it would be packed here; where another
        library packed it, whether all but the packed bytes is.
    vouched : bool
        Whether the list has the digest that was expected, or is signed by a key that was given.
    seals : tuple of Seal
        What each signature says of the list.
    unsigned : bool
        Whether keys were given and none of them signed the list.
    departures : tuple of str
        What is told of files that are not in the bundle, by its maker's word.
    faces_equal : bool or None
        Whether every file of the report is the same to the byte; None when not run.
    faces_altered : tuple of str
        Files of the report that are not what they are when made again from the inputs.
    faces_unjudged, faces_why : tuple of str
        Files of the report that could not be judged whole with the versions here; why, of each.
    """

    verdict: str
    name: str
    digest: str
    altered: tuple[str, ...]
    missing: tuple[str, ...]
    extra: tuple[str, ...]
    tolerance: float
    figures_digest: str = ""
    doubled: tuple[str, ...] = ()
    flaws: tuple[str, ...] = ()
    n_figures: int = 0
    n_equal: int = 0
    n_within: int = 0
    differences: tuple[Difference, ...] = ()
    versions: tuple[str, ...] = ()
    wrapped_alike: bool = True
    vouched: bool = False
    faces_equal: bool | None = None
    faces_differing: tuple[str, ...] = ()
    faces_altered: tuple[str, ...] = ()
    faces_unjudged: tuple[str, ...] = ()
    faces_why: tuple[str, ...] = ()
    trouble: str = ""
    departures: tuple[str, ...] = ()
    seals: tuple[Seal, ...] = ()
    unsigned: bool = False

    def __repr__(self) -> str:
        return tell_verification(self)

    @property
    def good(self) -> bool:
        """Return whether every member was judged and none was found changed."""
        return self.verdict in GOOD


@value
class _Again(Value):
    """The bundle's study run here: its seed, names of its files, files of its report."""

    seed: int
    inputs: tuple[str, ...]
    report: dict[str, bytes]


def verify_bundle(
    path: Path,
    *,
    tolerance: float = TOLERANCE,
    expect: str | None = None,
    by: tuple[PublicKey, ...] | None = None,
    signature: tuple[str, bytes] | None = None,
) -> Verification:
    """Check every byte of a bundle, run its study again, compare every figure and every face.

    Parameters
    ----------
    path : Path
        The zip.
    tolerance : float
        Relative difference up to which figures made with other versions agree.
    expect : str, optional
        Digest of the bundle's list as its maker published it.
    by : tuple of PublicKey, optional
        Keys that the verifier trusts; one of them must have signed the list.
    signature : tuple of str and bytes, optional
        A detached signature: the name of its file, and what it holds.

    Raises
    ------
    ReportError
        If the file is no bundle or was refused as unsafe.
    """
    bundle = unpack_bundle(path)
    wrong_list = expect is not None and expect.strip().lower() != bundle.digest
    seals = judge_seals(bundle.list_text, bundle.signature, signature, by)
    signed = any(s.vouches for s in seals)
    broken = " ".join(s.why for s in seals if s.why)
    common: dict[str, Any] = {
        "name": bundle.name, "digest": bundle.digest, "altered": bundle.altered,
        "missing": bundle.missing, "extra": bundle.extra, "doubled": bundle.doubled,
        "figures_digest": _figures_digest(bundle),
        "tolerance": tolerance, "wrapped_alike": bundle.wrapped_alike,
        "vouched": not (wrong_list or broken) and (expect is not None or signed),
        "seals": seals, "unsigned": by is not None and not signed, "trouble": broken,
        "departures": _departures(bundle.listed.get("origin")),
        "versions": other_versions(bundle.listed.get("environment")),
    }  # fmt: skip
    if wrong_list:
        common["trouble"] = (
            f"The list's digest is not the one expected ({expect}). {broken}".strip()
        )
    wrong_list = wrong_list or bool(broken)
    try:
        again = _run_again(bundle)
        before = read_strict(bundle.members[REPORT + RESULTS])
    except FleetstatsError as error:
        return _no_run(bundle, wrong_list, common, str(error))
    except OSError as error:
        why = f"Its study cannot be laid out here ({error.strerror})."
        return _no_run(bundle, wrong_list, common, why)
    except (KeyError, ValueError):
        return _no_run(bundle, wrong_list, common, "Its results.json is missing or no JSON.")
    now = read_strict(again.report[RESULTS]).content
    compared = compare_figures(before.content, now, tolerance=tolerance)
    common |= {
        "n_figures": compared[0] + compared[1] + len(compared[2]),
        "n_equal": compared[0],
        "n_within": compared[1],
        "differences": compared[2],
        "flaws": (
            *flaws_of_list(bundle, again.seed),
            *(f"In {RESULTS} the key '{k}' stands twice." for k in before.doubled),
        ),
    }
    other_packer = any(v.startswith("zlib ") for v in common["versions"])
    if not bundle.wrapped_alike and other_packer:
        common["wrapped_alike"] = wrapped_plainly(path.read_bytes())
    return _judge(bundle, again, wrong_list, common)


def study_of_bundle(path: Path, place: Path) -> Path:
    """Lay the study of a bundle out, if its members are what `verify_bundle` asks of them.

    Its list, the digest of every member and which files a study has are judged; its figures are
    not worked out again, which verifying does.

    Parameters
    ----------
    path : Path
        The zip.
    place : Path
        An empty folder outside every study.

    Returns
    -------
    Path
        The folder of the study, within `place`.

    Raises
    ------
    ReportError
        If the file is no bundle, or is not as its list says.
    SettingError
        If the study in it cannot be read.
    """
    bundle = unpack_bundle(path)
    folder = lay_out_study(bundle, place) if bundle.intact else None
    study = None if folder is None else read_study(folder)
    wrong = [*(f"'{n}' is not as its list says" for n in bundle.altered),
             *(f"'{n}' is missing" for n in bundle.missing),
             *(f"'{n}' is not in its list" for n in bundle.extra),
             *(f"'{n}' stands there twice" for n in bundle.doubled),
             *(f.rstrip(".") for f in flaws_of_list(
                 bundle, None if study is None else study.settings.study.seed))]  # fmt: skip
    if study is not None:
        due = {f"study/{k}" for k in study_members(study)}
        there = {k for k in bundle.members if k.startswith("study/")}
        wrong += [f"'{n}' belongs to no study" for n in sorted(there - due)]
    if folder is None or wrong:
        more = f", and {len(wrong) - 1} more like it" if len(wrong) > 1 else ""
        raise ReportError(
            f"The bundle '{path.name}' is not as it was packed: {wrong[0]}{more}.",
            "Ask its maker for the bundle again.",
        )
    return folder


def _judge(
    bundle: Unpacked, again: _Again, wrong_list: bool, common: dict[str, Any]
) -> Verification:
    """Judge the faces, the members that must and may be there, and the whole."""
    alike = not common["versions"]
    ours = same_program(bundle.listed.get("environment"))
    faces = judge_faces(
        bundle.members, again.report,
        alike=alike, same_program=ours, tolerance=common["tolerance"],
        same_typesetter=not any(v.startswith("typst ") for v in common["versions"]),
    )  # fmt: skip
    due = {f"study/{k}" for k in again.inputs} | {REPORT + k for k in again.report}
    there = set(bundle.members)
    if ours:
        common["extra"] = tuple(sorted({*bundle.extra, *(there - due)}))
        common["missing"] = tuple(sorted({*bundle.missing, *(due - there)}))
        more: set[str] = set()
    else:  # another version may make other files; what it made cannot be told here
        more = {k.removeprefix(REPORT) for k in there ^ due if k.startswith(REPORT)}
        strange = {k for k in there - due if not k.startswith(REPORT)}
        common["extra"] = tuple(sorted({*bundle.extra, *strange}))
    unjudged = dict(zip(faces.unjudged, faces.why, strict=True))
    unjudged |= dict.fromkeys(sorted(more), OTHER_PROGRAM)
    listed_wrong = (
        wrong_list or not bundle.intact or common["flaws"] or common["extra"] or common["missing"]
    )
    wrapped_wrong = alike and not common["wrapped_alike"]
    verdict = "unaltered" if common["vouched"] else "agrees"
    if unjudged or not common["wrapped_alike"]:
        verdict = "in-part"
    if common["unsigned"]:
        verdict = "not-vouched"
    if faces.altered:
        verdict = "altered"
    if common["differences"] and not alike:
        verdict = "differs"
    if listed_wrong or wrapped_wrong:
        verdict = "altered"
    return _verification(verdict, faces, unjudged, common)


def _verification(
    verdict: str, faces: FacesJudged, unjudged: dict[str, str], common: dict[str, Any]
) -> Verification:
    return Verification(
        verdict=verdict,
        faces_equal=not faces.differing,
        faces_differing=faces.differing,
        faces_altered=faces.altered,
        faces_unjudged=tuple(unjudged),
        faces_why=tuple(unjudged.values()),
        **common,
    )


def _figures_digest(bundle: Unpacked) -> str:
    data = bundle.members.get(REPORT + RESULTS)
    return "" if data is None else hashlib.sha256(data).hexdigest()


def _no_run(bundle: Unpacked, wrong_list: bool, common: dict[str, Any], why: str) -> Verification:
    common["trouble"] = " ".join(t for t in (common.get("trouble", ""), why) if t)
    common["flaws"] = flaws_of_list(bundle, None)
    wrong = not bundle.intact or wrong_list or common["flaws"]
    return Verification(verdict="altered" if wrong else "cannot-run", **common)


def _run_again(bundle: Unpacked) -> _Again:
    with tempfile.TemporaryDirectory(prefix="fleetstats-verify-") as place:
        study = read_study(lay_out_study(bundle, Path(place)))
        versions = told_versions(bundle.listed.get("environment"))
        return _Again(
            seed=study.settings.study.seed,
            report=report_members(study, bundle.name, versions=versions)[1],
            inputs=tuple(study_members(study)),
        )


def _departures(origin: object) -> tuple[str, ...]:
    """Return what a bundle's list tells of its original; whatever else stands there is nothing."""
    return tuple(_told(origin))


def _told(origin: object) -> Iterator[str]:
    try:
        told = parse_origin(origin)
    except ValueError:
        return
    yield f"{say_replaced(told)}."
    yield say_account(told, same=not any(x.what == "reason" for x in told.unlike))
    yield say_unlike(told)
    if declared := say_declared_there(told):
        yield declared
