"""The gallery: one picture of each kind, each on its page; the committed one is whole."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path

import gallery
import pytest
from gallery import choose_pictures, documents_of, gallery_files
from report_document import curve_figure, make_document

from fleetstats.core.errors import SettingError
from fleetstats.document.parts import find_figures

ROOT = Path(__file__).parents[2]
HERE = ROOT / "reports" / "gallery"
PICTURE = re.compile(r"^!\[([^\]]+)\]\(([a-z0-9-]+\.svg)\)$", re.MULTILINE)


def test_each_figure_comes_once_from_the_first_study_that_has_it() -> None:
    first = make_document()
    other = dataclasses.replace(first, first_figure=curve_figure("only-here", "Another"))
    got = choose_pictures({"one": first, "two": other})
    keys = [p.figure.key for p in got]
    assert len(keys) == len(set(keys))
    assert {k for k in keys if k != "only-here"} == {f.key for f in find_figures(first)}
    assert {p.study for p in got if p.figure.key != "only-here"} == {"one"}
    (new,) = [p for p in got if p.figure.key == "only-here"]
    assert (new.study, new.section) == ("two", "First screen")


def test_the_page_shows_every_picture_and_says_what_to_see() -> None:
    files = gallery_files({"one": make_document()})
    page = files["README.md"].decode()
    shown = PICTURE.findall(page)
    assert {name for _, name in shown} == {n for n in files if n.endswith(".svg")}
    assert all(alt.strip() for alt, _ in shown)
    for figure in find_figures(make_document()):
        assert figure.see in page
    assert set(json.loads(files["manifest.json"])["files"]) == set(files) - {"manifest.json"}


def test_a_folder_without_studies_is_told(tmp_path: Path) -> None:
    with pytest.raises(SettingError, match="holds no study"):
        documents_of(tmp_path)


def test_one_command_makes_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(gallery, "documents_of", lambda folder: {"one": make_document()})
    assert gallery.main(["somewhere", str(tmp_path / "g")]) == 0
    assert (tmp_path / "g" / "README.md").is_file()
    assert capsys.readouterr().out.strip().endswith("README.md")


def test_the_committed_gallery_is_whole() -> None:
    shown = {name for _, name in PICTURE.findall((HERE / "README.md").read_text("utf-8"))}
    assert shown == {p.name for p in HERE.glob("*.svg")}
    assert len(shown) > 20
    told = json.loads((ROOT / "reports" / "tow-clubs" / "report.json").read_text("utf-8"))
    keys = {b["key"] for s in told["sections"] for b in s["blocks"] if "panels" in b}
    assert keys <= {n.removesuffix(".svg") for n in shown}


@pytest.mark.slow
def test_the_committed_gallery_is_what_the_command_makes() -> None:
    for name, data in gallery_files(documents_of(ROOT / "datasets")).items():
        assert (HERE / name).read_bytes() == data, name
