"""A report within a bound of memory: the same files, and a word in place of what does not fit."""

from __future__ import annotations

import gc
import hashlib
import json
import subprocess
import sys
import tracemalloc
import weakref
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from report_document import make_document

from fleetstats.chapters.compose import compose_report
from fleetstats.core.errors import ReportError
from fleetstats.core.fenced import Fenced, FenceReached, Refused
from fleetstats.document.document import Document, Layer, Section
from fleetstats.document.parts import find_figures
from fleetstats.report import tables, within, write
from fleetstats.report.figures import draw_figure
from fleetstats.report.html import page_html, page_pieces
from fleetstats.report.json import document_pieces, json_pieces, write_json_bytes
from fleetstats.report.place import MANIFEST, place_files
from fleetstats.report.within import (
    LEFT_OUT,
    Apart,
    Spilled,
    first_written,
    say_unwritten,
    write_within,
)
from fleetstats.report.write import PAGE, render_files
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study

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


def test_a_page_that_does_not_fit_is_left_out_and_half_of_it_is_not_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The paper and the rest are written, and the verb names what there is."""

    def some(*_: object) -> Iterator[str]:
        yield "half a page"
        raise MemoryError

    monkeypatch.setattr(write, "page_pieces", some)
    files = render(tmp_path)
    assert files.left_out == [PAGE]
    assert PAGE not in files
    assert f"{PAGE}{LEFT_OUT}" in files
    assert len(list(tmp_path.iterdir())) == len(files)
    assert files["report.pdf"] == b"paper"
    assert first_written(files.left_out) == "report.pdf"
    assert first_written((PAGE, "report.pdf")) == "results.json"
    assert first_written(()) == PAGE


def test_the_results_are_never_left_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(write, "json_pieces", no_memory)
    with pytest.raises(MemoryError):
        render_files(make_document(), make_document(), into=Spilled(tmp_path, BOUND))


def test_a_file_on_the_disk_keeps_its_place_when_another_goes(tmp_path: Path) -> None:
    files = Spilled(tmp_path, BOUND)
    files.update({"a": b"1", "b": b"2"})
    del files["a"]
    files["c"] = b"3"
    assert dict(files) == {"b": b"2", "c": b"3"}


def test_page_and_report_of_many_marks_are_made_in_little_memory(tmp_path: Path) -> None:
    """Of a long table the page stood in memory twice and more, and so did the report's JSON.

    Held to what they take for the marks besides the document and its drawings.
    """
    n = 1_500
    document = make_document()
    figure = find_figures(document)[0]
    panel = figure.panels[0]
    marks = Layer(
        kind="points",
        role="estimate",
        label="many",
        x=np.arange(n) / 7.0,
        y=np.arange(n) / (7.0 * n),
    )
    many = [
        replace(figure, key=f"many-{k}", panels=(replace(panel, layers=(marks,)),))
        for k in range(16)
    ]
    sections = (*document.sections, Section(key="many", title="Many", blocks=tuple(many)))
    document = replace(document, sections=sections)
    drawn = {f.key: (draw_figure(f), draw_figure(f, narrow=True)) for f in find_figures(document)}
    files = Spilled(tmp_path, BOUND)

    def most(name: str, make: Callable[[Document], Iterable[bytes]], of: Document) -> int:
        tracemalloc.start()
        try:
            files.put_pieces(name, make(of))
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    def page(of: Document) -> Iterable[bytes]:
        return (p.encode() for p in page_pieces(of, drawn))

    few = make_document()
    list(page(few))  # templates are read once
    for name, make in ((PAGE, page), ("report.json", document_pieces)):
        least = most(name, make, few), len(files[name])
        more = most(name, make, document) - least[0], len(files[name]) - least[1]
        assert more[0] < 0.4 * more[1], (name, more)
    assert files[PAGE].decode() == page_html(document, drawn)


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


def test_a_workbook_that_does_not_fit_is_left_out_without_a_word_on_the_screen(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Its sheets, left open, told the user of a closed file, each in ten lines."""
    told: list[object] = []
    monkeypatch.setattr("sys.unraisablehook", told.append)
    rows = iter((b"<row/>", b"<row/>"))  # the third table finds no memory

    def some(*_: object) -> bytes:
        return next(rows, None) or no_memory()

    monkeypatch.setattr(tables, "rows_xml", some)
    with pytest.raises(MemoryError):
        tables.tables_xlsx(make_document())
    gc.collect()
    assert told == []


GROWN = """
import sys
from pathlib import Path
import typst
from fleetstats.core.memory import give_back
from fleetstats.report.typeset_kept import forget_typeset

def resident():
    give_back()
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(v.split()[1]) for v in lines if v.startswith("VmRSS"))

typst.compile(b"first", format="svg", ignore_system_fonts=True)
before = resident()
for k in range(3):
    words = " ".join(f"word{k}x{i}" + chr(10) * (2 * (i % 80 == 0)) for i in range(16_000))
    typst.compile(words.encode(), format="pdf", ignore_system_fonts=True)
grown = resident() - before
forget_typeset()
print(grown, resident() - before)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the system tells its memory otherwise")
def test_what_the_library_keeps_of_set_pages_is_let_go() -> None:
    done = subprocess.run(
        [sys.executable, "-c", GROWN], capture_output=True, text=True, check=True, timeout=120
    )
    grown, left = map(int, done.stdout.split())
    assert grown > 20_000  # kB; else this test shows nothing
    assert left < grown / 3


def test_writing_a_report_lets_go_of_what_the_library_keeps(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    monkeypatch.setattr(write, "forget_typeset", lambda: told.append("forgot"))
    render(tmp_path)
    assert told == ["forgot"]


def test_results_are_gone_with_the_last_hand_that_holds_them() -> None:
    """No cache holds a study: neither its results nor its lives outlast who asked for them."""
    results = analyse(read_study(Path("datasets/quiet-fleet")), quick=True)
    held = weakref.ref(results), weakref.ref(results.spells)
    compose_report(results)
    write.trace_files(results)
    write_json_bytes(results)
    del results
    gc.collect()
    assert [h() for h in held] == [None, None]
