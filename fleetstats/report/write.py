"""Write a whole report folder at once: page, PDF, data, figures.

The folder is built beside its place and then moved there, so that a reader never meets half a
report and two runs into one folder never mix. A manifest lists every file with its SHA-256; files
of an earlier run are replaced or removed only if that manifest shows that we wrote them. Other
files that lie in the folder are kept.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import shutil
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from fleetstats.core.beside import Beside
from fleetstats.core.errors import ReportError
from fleetstats.core.files import alone_in
from fleetstats.core.json_text import load_json
from fleetstats.core.plain_files import read_plain
from fleetstats.core.value import Value
from fleetstats.document.document import Document, Figure
from fleetstats.document.parts import check_document, find_figures
from fleetstats.report.figures import Drawing, draw_figure, rasterise
from fleetstats.report.html import page_html
from fleetstats.report.json import document_json, write_json_text
from fleetstats.report.pdf import report_pdf
from fleetstats.report.tables import all_csv, tables_xlsx

MANIFEST = "manifest.json"
PAGE = "report.html"
SWAP_TRIES = 50


def write_report(
    document: Document, results: Value | None, folder: Path, *, beside: Beside | None = None
) -> Path:
    """Write a report and everything that belongs to it.

    Parameters
    ----------
    document : Document
        The composed report.
    results : Value or None
        The results behind it, written as ``results.json``.
    folder : Path
        Where the report goes; made when it does not exist. Files in it that are not ours stay.
    beside : Beside, optional
        A process that may make pictures and paper meanwhile; no byte depends on it.

    Returns
    -------
    Path
        The page, ``report.html``.

    Raises
    ------
    ReportError
        When the document cannot be rendered, the folder is a file, it holds a file of ours that
        someone else wrote, or the disk refuses. Nothing is then left behind.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> import fleetstats as fs
    >>> results = fs.analyse(fs.read_study("datasets/quiet-fleet"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     fs.write_report(fs.compose_report(results), results, Path(folder)).name
    'report.html'
    """
    files = render_files(document, results, beside)
    folder = Path(folder)
    try:
        return place_files(files, folder) / PAGE
    except OSError as error:
        raise ReportError(
            f"The report cannot be written to '{folder}': {error.strerror or error}.",
            "Choose a folder that you may write to, with enough space.",
        ) from error


def render_files(
    document: Document, results: Value | None, beside: Beside | None = None
) -> dict[str, bytes]:
    """Return every file of the report: path within its folder = bytes."""
    check_document(document)
    out: dict[str, bytes] = {}
    drawings = draw_figures(find_figures(document))
    beside = beside or Beside(wanted=False)
    paper = beside.ask(report_pdf, document, {k: d[0] for k, d in drawings.items()})
    whole = {k: d[0].svg for k, d in drawings.items()}
    pictures = beside.ask(rasterise, whole)
    out |= {f"figures/{key}.svg": svg.encode() for key, svg in whole.items()}
    out[PAGE] = page_html(document, drawings).encode()
    out["report.json"] = document_json(document).encode()
    if results is not None:
        out["results.json"] = write_json_text(results).encode()
    out |= {name: text.encode() for name, text in all_csv(document).items()}
    out["tables.xlsx"] = tables_xlsx(document)
    out |= {f"figures/{key}.png": png for key, png in pictures.take().items()}
    out["report.pdf"] = paper.take()
    listed = {name: hashlib.sha256(data).hexdigest() for name, data in out.items()}
    out[MANIFEST] = write_json_text(
        {"schema": "fleetstats/manifest/1", "report_id": document.report_id, "files": listed}
    ).encode()
    return out


def draw_figures(figures: Sequence[Figure]) -> dict[str, tuple[Drawing, Drawing]]:
    """Return wide drawings and narrow ones, by the figures' keys."""
    return {f.key: (draw_figure(f), draw_figure(f, narrow=True)) for f in figures}


def place_files(files: Mapping[str, bytes], folder: Path) -> Path:
    """Put files into a folder in one move; see the head of this module for what is kept.

    Parameters
    ----------
    files : mapping
        Relative path = bytes; ``manifest.json`` among them lists the others.
    folder : Path
        Target.
    """
    folder = folder.absolute()
    if folder.is_symlink():
        folder = folder.resolve()
    if folder.exists() and not folder.is_dir():
        raise ReportError(f"'{folder.name}' is a file.", "Name a folder for the report.")
    folder.parent.mkdir(parents=True, exist_ok=True)
    fresh = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        for name, data in files.items():
            _write(fresh / name, data)
        _sync([fresh, *(p for p in fresh.rglob("*") if p.is_dir())])
        fresh.chmod(0o777 & ~_umask())
        with alone_in(folder.parent):
            if folder.is_dir():
                _keep_others(folder, fresh, set(files))
            _swap(fresh, folder)
    except BaseException:  # also on Ctrl-C nothing half-written stays
        shutil.rmtree(fresh, ignore_errors=True)
        raise
    return folder


def _write(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as f:
        f.write(data)
        f.flush()
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


def _keep_others(old: Path, fresh: Path, ours_now: set[str]) -> None:
    """Carry over what others put into the folder; refuse to write over it."""
    written = _written_before(old)
    for path in sorted(p for p in old.rglob("*") if p.is_file() or p.is_symlink()):
        name = path.relative_to(old).as_posix()
        ours = name == MANIFEST and bool(written)
        if name in written:
            if name in ours_now:
                continue
            ours = _sha(path) == written[name]
        if ours:
            continue
        if name in ours_now:
            raise ReportError(
                f"The folder holds a file '{name}' that this program did not write.",
                "Move it, or choose another folder for the report.",
            )
        target = fresh / name
        target.parent.mkdir(parents=True, exist_ok=True)
        if path.is_symlink():
            target.symlink_to(path.readlink())
        else:
            shutil.copy2(path, target)


def _written_before(folder: Path) -> dict[str, str]:
    """Return the files that our last manifest in this folder lists, with their digests."""
    try:
        content = load_json(read_plain(folder / MANIFEST, "json_bytes"))
    except (OSError, ValueError):
        return {}
    if not isinstance(content, dict) or content.get("schema") != "fleetstats/manifest/1":
        return {}
    files = content.get("files")
    return {str(k): str(v) for k, v in files.items()} if isinstance(files, dict) else {}


def _sha(path: Path) -> str:
    return "" if path.is_symlink() else hashlib.sha256(path.read_bytes()).hexdigest()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _swap(fresh: Path, folder: Path) -> None:
    """Move the new folder into place, the old one out of it; another run may do so too."""
    for _ in range(SWAP_TRIES):
        try:
            fresh.rename(folder)
        except OSError as error:
            if not _is_taken(error, folder):
                raise
        else:
            _sync([folder.parent])
            return
        away = Path(tempfile.mkdtemp(prefix=f".{folder.name}-old-", dir=folder.parent))
        try:
            folder.rename(away / "old")
        except FileNotFoundError:
            away.rmdir()
            continue
        try:
            fresh.rename(folder)
        except OSError as error:
            if not _is_taken(error, folder):  # put the old one back before giving up
                (away / "old").rename(folder)
                away.rmdir()
                raise
            shutil.rmtree(away, ignore_errors=True)
            continue
        _sync([folder.parent])
        shutil.rmtree(away, ignore_errors=True)
        return
    raise ReportError(f"Other runs keep writing to '{folder.name}'.", "Give each run its folder.")


def _is_taken(error: OSError, folder: Path) -> bool:
    return error.errno in (errno.ENOTEMPTY, errno.EEXIST) or folder.exists()
