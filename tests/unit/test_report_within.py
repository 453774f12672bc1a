"""A report within a bound of memory: the same files, and a word in place of what does not fit."""

from __future__ import annotations

import hashlib
import json
import tracemalloc
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from report_document import make_document

from fleetstats.core.errors import ReportError
from fleetstats.core.fenced import Fenced, FenceReached, Refused
from fleetstats.report import within, write
from fleetstats.report.json import json_pieces, write_json_bytes
from fleetstats.report.place import MANIFEST, place_files
from fleetstats.report.within import LEFT_OUT, Apart, Spilled, say_unwritten, write_within
from fleetstats.report.write import PAGE, render_files

BOUND = 10**9
LIGHT = {"set_papers": (b"paper", b"brief"), "brief_pdf": b"brief"}


@pytest.fixture(autouse=True)
def no_paper(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Set no paper and no pictures but in slow tests: others do."""
    if request.node.get_closest_marker("slow"):
        return
    for name, data in LIGHT.items():
        monkeypatch.setattr(write, name, lambda *_, data=data: data)
    monkeypatch.setattr(write, "rasterise", lambda drawings: dict.fromkeys(drawings, b"picture"))


def no_memory(*_: object) -> Any:
    raise MemoryError


def render(folder: Path) -> Spilled:
    out = Spilled(folder, BOUND)
    assert render_files(make_document(), None, into=out) is out
    return out


def test_files_on_the_disk_are_those_in_memory(tmp_path: Path) -> None:
    files = render(tmp_path)
    assert dict(files) == render_files(make_document(), None)
    assert files.left_out == []
    assert len(list(tmp_path.iterdir())) == len(files)
    del files[PAGE]
    assert PAGE not in files
    assert say_unwritten(()) == ""


@pytest.mark.parametrize(
    ("step", "name"),
    [
        ("tables_xlsx", "tables.xlsx"),
        ("all_csv", "tables"),
        ("check_files", "check.py"),
        ("rasterise", "figures/png"),
        ("set_papers", "report.pdf"),
        ("trace_files", "lineage.html"),
    ],
)
def test_what_does_not_fit_is_left_out_with_a_word_in_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, name: str
) -> None:
    whole = render_files(make_document(), None)
    monkeypatch.setattr(write, step, no_memory)
    files = render(tmp_path)
    assert files.left_out == [name]
    said = files[f"{name}{LEFT_OUT}"].decode()
    assert said.startswith(f"{name} is not here")
    assert "1 GB" in said
    assert name in say_unwritten(tuple(files.left_out))
    # all else is as it was, and the list of files tells what is there
    rest = {n: d for n, d in files.items() if not n.endswith(LEFT_OUT) and n != MANIFEST}
    assert rest.items() <= whole.items()
    assert PAGE in rest
    listed = json.loads(files[MANIFEST])["files"]
    assert listed == {n: hashlib.sha256(d).hexdigest() for n, d in files.items() if n != MANIFEST}
    # without a bound the lack is told, not passed over
    with pytest.raises(MemoryError):
        render_files(make_document(), None)


def test_the_page_is_never_left_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(write, "page_html", no_memory)
    with pytest.raises(MemoryError):
        render(tmp_path)


@pytest.mark.parametrize(
    ("raised", "expected"),
    [
        (FenceReached("too much", why="memory"), MemoryError),
        (FenceReached("died", why="ended"), MemoryError),
        (FenceReached("too long", why="time"), ReportError),
        (Refused("no letters", "try"), ReportError),
    ],
)
def test_a_process_that_dies_is_a_lack_of_memory(
    monkeypatch: pytest.MonkeyPatch, raised: Exception, expected: type[Exception]
) -> None:
    def call(*_: object, **__: object) -> object:
        raise raised

    monkeypatch.setattr(within, "call_fenced", call)
    later = Apart().ask(len, "abc")
    with pytest.raises(expected):
        later.take()


def test_a_report_is_put_in_its_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def here(function: Any, *given: Any, named: Mapping[str, Any], **_: object) -> Fenced[Any]:
        return Fenced(result=function(*given, **named), not_held=())

    monkeypatch.setattr(within, "call_fenced", here)
    monkeypatch.setattr(write, "set_papers", no_memory)
    results: Any = None
    # the bound holds for the process of the tests, which may have grown past a small one by then
    roomy = 1_000 * BOUND
    assert write_within(make_document(), results, tmp_path / "out", roomy) == ("report.pdf",)
    names = {p.name for p in (tmp_path / "out").iterdir()}
    assert {PAGE, "tables.xlsx", f"report.pdf{LEFT_OUT}", MANIFEST} <= names
    assert "report.pdf" not in names


@pytest.mark.slow
def test_a_bound_that_is_wide_enough_changes_no_byte(tmp_path: Path) -> None:
    files = Spilled(tmp_path, BOUND)
    render_files(make_document(), None, Apart(), into=files)
    assert dict(files) == render_files(make_document(), None)


def test_what_is_long_is_written_placed_and_listed_by_pieces(tmp_path: Path) -> None:
    """A million rows' results are hundreds of MB of text; no step holds more than pieces of it."""
    value = {"entry_h": np.arange(300_000) / 7.0}
    whole = write_json_bytes(value)
    (tmp_path / "spilled").mkdir()
    files = Spilled(tmp_path / "spilled", BOUND)
    tracemalloc.start()
    try:
        files.put_pieces("results.json", json_pieces(value))
        write.list_files(files, make_document())
        place_files(files, tmp_path / "out")
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert (tmp_path / "out" / "results.json").read_bytes() == whole
    listed = json.loads((tmp_path / "out" / MANIFEST).read_text("utf-8"))["files"]
    assert listed == {"results.json": hashlib.sha256(whole).hexdigest()}
    assert most < len(whole) / 4
