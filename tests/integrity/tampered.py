"""One honest bundle, and what a forger does to it before somebody verifies it.

The forger knows our code: unless a case says otherwise, the report's manifest and the bundle's list
are written anew, with right digests and sizes and in our way of writing, and the zip is packed as
we pack it. What then betrays the bundle is only what it says.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fleetstats.report.bundle.pack import LIST, list_text, pack_bundle, zip_of
from fleetstats.study.study import read_study

STUDY = """\
[study]
title = "Six lives"
analysis_date = 2026-09-30
seed = 11
[evidence]
resamples = 200
[[records]]
file = "lives.csv"
shape = "lives"
"""
LIVES = """\
engine,entry,exit,ending,cause,last reading
SN-77,0,400,failed,piston,2026-01-03
SN-78,0,600,running,,2026-09-01
SN-79,300,700,failed,valve,2025-02-01
"""


def make_honest(place: Path) -> Path:
    """Write a small study and return its bundle; invented lives, no source."""
    folder = place / "six-lives"
    folder.mkdir()
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    (folder / "lives.csv").write_text(LIVES, encoding="utf-8")
    pack_bundle(read_study(folder), place / "honest.zip")
    return place / "honest.zip"


@dataclass
class Bundle:
    """A bundle in a forger's hands: its members, and its list as data."""

    members: dict[str, bytes]
    listed: dict[str, Any]
    manifest_too: bool = True
    text: bytes | None = None

    @classmethod
    def read(cls, path: Path) -> Bundle:
        with zipfile.ZipFile(path) as z:
            members = {n: z.read(n) for n in z.namelist()}
        return cls(members, json.loads(members.pop(LIST)))

    def swap(self, name: str, old: str | bytes, new: str | bytes) -> None:
        """Replace text once in a member; it must be there."""
        a, b = (x.encode() if isinstance(x, str) else x for x in (old, new))
        assert a in self.members[name], f"{old!r} is not in {name}"
        self.members[name] = self.members[name].replace(a, b, 1)

    def list_again(self) -> None:
        """Write digests and sizes of all members anew, in the manifest and in the list."""
        manifest = "report/manifest.json"
        if self.manifest_too and manifest in self.members:
            content = json.loads(self.members[manifest])
            content["files"] = {
                k: sha(self.members[f"report/{k}"])
                for k in content["files"] if f"report/{k}" in self.members
            } | {
                k.removeprefix("report/"): sha(v)
                for k, v in self.members.items()
                if k.startswith("report/") and k != manifest
            }  # fmt: skip
            if content != json.loads(self.members[manifest]):
                self.members[manifest] = json.dumps(content, indent=1).encode()
        self.listed["files"] = {
            k: {"sha256": sha(v), "size_bytes": len(v)} for k, v in sorted(self.members.items())
        }

    def pack(self) -> bytes:
        return zip_of(self.text or list_text(self.listed), self.members)


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@dataclass(frozen=True, kw_only=True)
class Tampering:
    """A case: its name and what is done before and after the list is written anew, and to the zip.

    `listed` False leaves the honest list in place.
    """

    name: str
    change: Callable[[Bundle], object] = lambda b: None
    after: Callable[[Bundle], object] = lambda b: None
    zipped: Callable[[bytes], bytes] = field(default=lambda data: data)
    listed: bool = True

    def make(self, honest: Path, out: Path) -> Path:
        b = Bundle.read(honest)
        self.change(b)
        if self.listed:
            b.list_again()
        self.after(b)
        data = self.zipped(b.pack())
        assert data != honest.read_bytes(), "the case changes nothing"
        out.write_bytes(data)
        return out
