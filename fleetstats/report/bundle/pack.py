"""Put a study, its results and its report into one zip, the same bytes for the same inputs."""

from __future__ import annotations

import hashlib
import io
import json
import os
import tempfile
import zipfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from fleetstats.advice.results import Results
from fleetstats.chapters.compose import compose_checked
from fleetstats.core.errors import ReportError
from fleetstats.core.value import Value, value
from fleetstats.report.bundle.environment import environment_here
from fleetstats.report.bundle.keys import SigningKey
from fleetstats.report.bundle.seal import BESIDE, SIGNATURE, sign_list
from fleetstats.report.write import render_files
from fleetstats.selftest import run_selftest
from fleetstats.studies.analyse import analyse
from fleetstats.study.declared import DECLARED_FILE
from fleetstats.study.history import HISTORY_FILE
from fleetstats.study.origin import ORIGIN_FILE, read_origin
from fleetstats.study.study import MENDS_FILE, STUDY_FILE, Study

LIST = "bundle.json"
"""The bundle's own list: every other member with its SHA-256."""

SELFTEST = "selftest.csv"
"""Among the report's files: published cases as worked out where the bundle was made."""

SCHEMA = "fleetstats/bundle/1"
FIXED_TIME = (1980, 1, 1, 0, 0, 0)
"""Earliest time that a zip can hold; a bundle carries no clock, so that it can be made again."""


@value
class Packed(Value):
    """A bundle that was written.

    `digest` is the SHA-256 of its list; whoever knows it can tell any later change, since the list
    names every byte. `signed_by` is the fingerprint of the key that signed it, `signature` the name
    of the detached signature beside it; blank where it is not signed.
    """

    path: str
    digest: str
    n_files: int
    size_bytes: int
    signed_by: str = ""
    signature: str = ""


def study_members(study: Study) -> dict[str, bytes]:
    """Return a study's own files: name within the study = bytes; its declaration, its
    ledger of looks and its mends with them.

    Raises
    ------
    ReportError
        If a file of the study cannot be read.
    """
    out: dict[str, bytes] = {}
    names = [STUDY_FILE, *(f.file for f in study.files)]
    if study.settings.fleet.serials_file:
        names.append(study.settings.fleet.serials_file)
    for own in (DECLARED_FILE, HISTORY_FILE, MENDS_FILE):
        path = study.folder / own
        if path.is_file() and not path.is_symlink():
            names.append(own)
    if read_origin(study.folder) is not None:
        names.append(ORIGIN_FILE)
    for name in dict.fromkeys(names):
        plain = name.replace("\\", "/")
        try:
            out[plain] = study.folder.joinpath(*plain.split("/")).read_bytes()
        except OSError as error:
            raise ReportError(
                f"'{name}' of the study cannot be read: {error.strerror}.",
                "A bundle needs every file that the study names.",
            ) from None
    return out


def report_members(
    study: Study, name: str, *, versions: Mapping[str, str] | None = None
) -> tuple[Results, dict[str, bytes]]:
    """Run a study and return its results and the files of its report, the selftest with them.

    `name` is printed as the study's command; it does not depend on where the study lies. `versions`
    are printed instead of those installed, so that a report made with others can be compared.
    """
    results = analyse(study, command=f"fleetstats study {name}")
    if versions is not None:
        told = replace(results.provenance, versions=dict(versions))
        results = replace(results, provenance=told)
    results, document = compose_checked(results)
    tried = {SELFTEST: run_selftest().to_csv().encode()}
    return results, dict(render_files(document, results, more=tried))


def pack_bundle(
    study: Study,
    out: Path,
    *,
    name: str | None = None,
    sign: SigningKey | None = None,
) -> Packed:
    """Run a study and write its bundle.

    Parameters
    ----------
    study : Study
        What to bundle.
    out : Path
        The zip; an existing file is replaced in one move.
    name : str, optional
        Name of the study inside the bundle; default its folder's.
    sign : SigningKey, optional
        Key that signs the list: inside the bundle, and in a file of its own beside it.

    Raises
    ------
    ReportError
        If a file cannot be read, or the zip cannot be written; nothing is left half-written.
    """
    name = name or study.name
    _, report = report_members(study, name)
    members = {f"study/{k}": v for k, v in study_members(study).items()}
    members |= {f"report/{k}": v for k, v in report.items()}
    told = read_origin(study.folder)
    origin = None if told is None else told.told
    seed = study.settings.study.seed
    return write_bundle(members, out, name=name, seed=seed, origin=origin, sign=sign)


def write_bundle(
    members: Mapping[str, bytes],
    out: Path,
    *,
    name: str,
    seed: int,
    origin: Mapping[str, object] | None = None,
    sign: SigningKey | None = None,
) -> Packed:
    """Write members and their list as one zip, through a temporary file beside it."""
    listed = {
        "schema": SCHEMA,
        "name": name,
        "command": f"fleetstats study {name}",
        "seed": seed,
        "environment": environment_here(),
        "origin": dict(origin or {}),
        "files": {
            k: {"sha256": hashlib.sha256(v).hexdigest(), "size_bytes": len(v)}
            for k, v in sorted(members.items())
        },
    }
    text = list_text(listed)
    signature = None if sign is None else sign_list(text, sign)
    data = zip_of(text, members, signature)
    _place(data, out)
    beside = out.with_name(out.name + BESIDE)
    if signature is not None:
        _place(signature, beside)
    return Packed(
        path=out.name,
        digest=hashlib.sha256(text).hexdigest(),
        n_files=len(members),
        size_bytes=len(data),
        signed_by="" if sign is None else sign.public.fingerprint,
        signature="" if sign is None else beside.name,
    )


def list_text(listed: Mapping[str, object]) -> bytes:
    """Return a bundle's list as it is written; there is one way to write it."""
    return json.dumps(listed, indent=2, ensure_ascii=False, sort_keys=True).encode()


def zip_of(text: bytes, members: Mapping[str, bytes], signature: bytes | None = None) -> bytes:
    """Return the zip of a list, its signature and its members, without clock or machine's name."""
    own = [(LIST, text), *([] if signature is None else [(SIGNATURE, signature)])]
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for member, content in [*own, *sorted(members.items())]:
            info = zipfile.ZipInfo(member, FIXED_TIME)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o100644 << 16
            info.create_system = 3
            archive.writestr(info, content)
    return data.getvalue()


def _place(data: bytes, out: Path) -> None:
    if out.exists() and not out.is_file():
        raise ReportError(
            f"The bundle '{out.name}' cannot be written: what bears that name is no file.",
            "Name a file that is not there yet, or an earlier bundle.",
        )
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=f".{out.name}-", dir=out.parent)
        try:
            with os.fdopen(handle, "wb") as f:
                f.write(data)
                f.flush()
                os.fsync(f.fileno())
            Path(temporary).replace(out)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise ReportError(
            f"The bundle '{out.name}' cannot be written: {error.strerror}.",
            "Choose a folder that you may write to, with enough space.",
        ) from None
