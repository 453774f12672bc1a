"""Put a report's files into a folder: only our own are touched, and they change at one moment.

A folder that does not exist is built beside its place and renamed. One that holds our files alone
is exchanged whole, where the system can do that in one step. Everywhere else each file takes its
place by itself, from a stage within the folder, the manifest last; a run that was killed on the way
is finished, or its leavings removed, by the next. What others put into the folder is never moved.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import glob
import hashlib
import os
import shutil
import tempfile
import zlib
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path, PurePosixPath

from fleetstats.core.doors.json_text import load_json
from fleetstats.core.doors.plain_files import read_plain
from fleetstats.core.errors import ReportError
from fleetstats.core.files import alone_in
from fleetstats.core.provenance import digest_file

MANIFEST = "manifest.json"
MANIFEST_SCHEMA = "fleetstats/manifest/1"
STUDY_MARK = "study.toml"
"""A folder that holds this is a study: its records are no place for a report."""

STAGE = ".fleetstats-"
READY = "ready-"
"""A stage so named is whole: what is left of it may take its place at any time."""

TRIES = 50
LITTER = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
"""What a file manager writes into a folder by itself does not make it somebody's."""


def check_place(folder: Path) -> Path:
    """Return the folder for a report, resolved; refuse one that a report must not go to.

    Parameters
    ----------
    folder : Path
        Where the report shall go; it need not exist.

    Raises
    ------
    ReportError
        If it is a file, the current folder, a study's folder, or holds files of others and no
        manifest of ours.
    """
    folder = check_folder(folder)
    if not folder.exists():
        return folder
    others = {p.name for p in folder.iterdir()} - LITTER
    others = {n for n in others if not n.startswith(STAGE)}
    if others and not written_before(folder) and not list(folder.glob(f"{STAGE}*")):
        raise ReportError(
            f"The folder '{folder.name}' holds files that this program did not write "
            f"('{min(others)}').",
            "Name an empty folder, one that does not exist yet, or an earlier report's.",
        )
    return folder


def check_folder(folder: Path) -> Path:
    """Return a folder for reports, resolved, whatever else lies in it.

    Raises
    ------
    ReportError
        If it is a file, the current folder or a study's folder.
    """
    if folder == Path():
        _refuse_current(folder)
    folder = folder.absolute()
    if folder.is_symlink():
        folder = folder.resolve()
    if not folder.exists():
        return folder
    if not folder.is_dir():
        raise ReportError(f"'{folder.name}' is a file.", "Name a folder for the report.")
    if folder.samefile(Path.cwd()):
        _refuse_current(folder)
    if (folder / STUDY_MARK).exists():
        raise ReportError(
            f"'{folder.name}' is a study's folder: it holds {STUDY_MARK}.",
            f"Name a folder of the report's own, for instance '{folder.name}/report'.",
        )
    return folder


def _refuse_current(folder: Path) -> None:
    raise ReportError(
        f"The report cannot go to the current folder ('{folder}').",
        "Name a folder of the report's own; it is made when it does not exist.",
    )


def place_files(files: Mapping[str, bytes], folder: Path) -> Path:
    """Put files into a folder; see the head of this module for how and for what is kept.

    Parameters
    ----------
    files : mapping
        Relative path = bytes; ``manifest.json`` among them lists the others.
    folder : Path
        Target.

    Raises
    ------
    ReportError
        As `check_place`, or if the folder holds a file of a name of ours that we did not write.
    OSError
        If the disk refuses. What was there is then as it was.
    """
    folder = check_place(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    home, prefix = _home_of_stage(folder)
    with _stage(files, home, prefix) as fresh, alone_in(home):
        _sweep(home, prefix, folder)
        if not _take_place(fresh, folder):
            _place_among_others(fresh, home / f"{prefix}{READY}{fresh.name[len(prefix) :]}", folder)
    return folder


def digest_of(files: Mapping[str, bytes], name: str) -> str:
    """Return the SHA-256 of one file; where files lie on the disk it is read piece by piece."""
    on_disk = getattr(files, "digest_of", None)
    return hashlib.sha256(files[name]).hexdigest() if on_disk is None else str(on_disk(name))


def sweep(folder: Path) -> list[str]:
    """Finish or remove what killed runs left on the way to a folder, as the next run would.

    Parameters
    ----------
    folder : Path
        Where their report was to go; it need not exist.

    Returns
    -------
    list of str
        Names of what still lies there: of runs that go on, or of another machine.
    """
    home, prefix = _home_of_stage(folder)
    with alone_in(home):
        _sweep(home, prefix, folder)
    return [p.name for p in home.glob(f"{glob.escape(prefix)}*")]


def _home_of_stage(folder: Path) -> tuple[Path, str]:
    """Return where files are staged, and how stages for this folder begin their names there."""
    parent = folder.parent
    if folder.exists() and (
        folder.stat().st_dev != parent.stat().st_dev or not os.access(parent, os.W_OK)
    ):
        return folder, STAGE
    return parent, f".{folder.name}-"


def _place_among_others(fresh: Path, ready: Path, folder: Path) -> None:
    """Let each file take its place by itself in a folder that holds what others put there."""
    _check_clashes(folder, {p.relative_to(fresh).as_posix() for p in _files_in(fresh)})
    fresh.rename(ready)
    try:
        _settle(ready, folder)
    except BaseException:  # once begun, it is carried through: half of two reports is worse
        _settle(ready, folder)
        raise


@contextlib.contextmanager
def _stage(files: Mapping[str, bytes], place: Path, prefix: str) -> Iterator[Path]:
    """Write files to disk in a folder of their own, which is gone afterwards."""
    fresh = Path(tempfile.mkdtemp(prefix=f"{prefix}{_host()}-{os.getpid()}-", dir=place))
    try:
        copy = getattr(files, "copy_to", None)
        for name in files:
            target = fresh / name
            target.parent.mkdir(parents=True, exist_ok=True)
            if copy is None:
                target.write_bytes(files[name])
            else:
                copy(name, target)
            _sync_file(target)
        _sync([fresh, *(p for p in fresh.rglob("*") if p.is_dir())])
        fresh.chmod(0o777 & ~_umask())
        yield fresh
    finally:  # also on Ctrl-C nothing half-written stays
        shutil.rmtree(fresh, ignore_errors=True)


def _host() -> str:
    """Return a short mark of this machine: only its own dead runs can be told to be dead."""
    import platform

    return f"{zlib.crc32(platform.node().encode()):08x}"


def _sweep(home: Path, prefix: str, folder: Path) -> None:
    """Finish or remove what killed runs of this machine left of stages for a folder."""
    for left in home.glob(f"{glob.escape(prefix)}*"):
        rest = left.name.removeprefix(prefix)
        host, _, pid = rest.removeprefix(READY).rpartition("-")[0].partition("-")
        if host != _host() or not pid.isdigit() or not left.is_dir() or _lives(int(pid)):
            continue
        if rest.startswith(READY) and folder.is_dir():
            _settle(left, folder)
        shutil.rmtree(left, ignore_errors=True)


def _lives(pid: int) -> bool:
    if pid == os.getpid():
        return True
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def _settle(ready: Path, folder: Path) -> None:
    """Move the files of a whole stage into place, the manifest last.

    Until the last move the folder has the manifest of the run before, so that whoever finishes the
    work of a killed run knows what was that run's.
    """
    paths = sorted(_files_in(ready), key=lambda p: p.name == MANIFEST)
    if (ready / MANIFEST).exists():
        for path in _stale(folder, set(written_before(ready))):
            path.unlink(missing_ok=True)
            _drop_empty(path.parent, folder)
    for path in paths:
        target = folder / path.relative_to(ready)
        target.parent.mkdir(parents=True, exist_ok=True)
        path.replace(target)
    _sync([folder, *{(folder / p.relative_to(ready)).parent for p in paths}])
    shutil.rmtree(ready, ignore_errors=True)


def _files_in(folder: Path) -> list[Path]:
    return [p for p in folder.rglob("*") if p.is_file()]


def written_before(folder: Path) -> dict[str, str]:
    """Return the files that our last manifest in a folder lists, with their digests."""
    try:
        content = load_json(read_plain(folder / MANIFEST, "json_bytes"))
    except (OSError, ValueError):
        return {}
    if not isinstance(content, dict) or content.get("schema") != MANIFEST_SCHEMA:
        return {}
    files = content.get("files")
    if not isinstance(files, dict):
        return {}
    return {str(k): str(v) for k, v in files.items() if _is_inside(str(k))}


def _is_inside(name: str) -> bool:
    """Return whether a name in a manifest, which anybody may have written, stays in its folder."""
    path = PurePosixPath(name)
    return not path.is_absolute() and ".." not in path.parts and "\0" not in name


def _ours_alone(folder: Path) -> bool:
    """Return whether a folder holds what our manifest lists, unchanged, and nothing else."""
    written = written_before(folder)
    if not written or Path.cwd().is_relative_to(folder):
        return False
    ours = {*written, MANIFEST}
    kept = {str(parent) for name in ours for parent in PurePosixPath(name).parents} - {"."}
    for path in folder.rglob("*"):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink() or name not in (kept if path.is_dir() else ours):
            return False
        if not path.is_dir() and (not path.is_file() or path.stat().st_nlink > 1):
            return False
        if name in written and _sha(path) != written[name]:
            return False
    return True


def _check_clashes(folder: Path, ours_now: set[str]) -> None:
    """Refuse to write over what bears a name of ours and somebody else made."""
    written = written_before(folder)
    ours = {*written, MANIFEST} if written else set()
    for name in sorted(ours_now):
        path = folder / name
        taken = path.is_symlink() or path.is_dir() or (path.exists() and name not in ours)
        led = any((folder / p).is_symlink() for p in PurePosixPath(name).parents if p.name)
        if taken or led:
            what = "a link or folder on the way to" if led or path.is_dir() else "a file"
            raise ReportError(
                f"The folder holds {what} '{name}' that this program did not write.",
                "Move it, or choose another folder for the report.",
            )


def _stale(folder: Path, ours_now: set[str]) -> list[Path]:
    """Return files of an earlier run that are as it left them and have no place in this one."""
    written = written_before(folder)
    return [
        folder / name
        for name, digest in written.items()
        if name not in ours_now and _sha(folder / name) == digest
    ]


def _drop_empty(path: Path, folder: Path) -> None:
    """Remove a folder of ours that holds nothing any more."""
    while path != folder:
        try:
            path.rmdir()
        except OSError:
            return
        path = path.parent


def _sha(path: Path) -> str:
    if path.is_symlink() or not path.is_file():
        return ""
    return digest_file(path)


def _take_place(fresh: Path, folder: Path) -> bool:
    """Put a whole folder into place in one step; False where others' files or the system forbid."""
    for _ in range(TRIES):
        try:
            if not folder.exists():
                fresh.rename(folder)
                _sync([folder.parent])
                return True
            if not _ours_alone(folder):
                return False
            fresh.chmod(folder.stat().st_mode & 0o7777)
            if not _exchange(fresh, folder):
                return False
            _sync([folder.parent])
        except OSError as error:  # where there are no locks, another run may be at it too
            if error.errno not in (errno.ENOENT, errno.ENOTEMPTY, errno.EEXIST):
                raise
        else:
            return True
    return False


def _exchange(one: Path, other: Path) -> bool:
    """Exchange two folders in one step; False where the system cannot.

    Linux has `renameat2` with RENAME_EXCHANGE (2) since 3.15, the C library since 2.28
    (Linux man-pages, rename(2)).
    """
    try:
        renameat2 = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    here = -100  # AT_FDCWD
    return bool(renameat2(here, os.fsencode(one), here, os.fsencode(other), 2) == 0)


def _sync_file(path: Path) -> None:
    with path.open("rb+") as f:
        os.fsync(f.fileno())


def _sync(folders: Iterable[Path]) -> None:
    """Force the names in some folders to disk; systems that cannot open a folder go without."""
    for path in folders:
        with contextlib.suppress(OSError):
            handle = os.open(path, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
