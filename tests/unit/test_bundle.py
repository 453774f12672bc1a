"""Bundles: made the same twice, checked to the byte, refused when unsafe, silent on identities."""

from __future__ import annotations

import io
import json
import os
import shutil
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from fleetstats.chapters.departures import list_departures
from fleetstats.core.errors import ReportError
from fleetstats.report.bundle import verify as verify_module
from fleetstats.report.bundle.figures import compare_figures
from fleetstats.report.bundle.hiding.names import pseudonym
from fleetstats.report.bundle.hiding.study_text import toml_value
from fleetstats.report.bundle.leaving import tell_leaving
from fleetstats.report.bundle.pack import LIST, list_text, pack_bundle, write_bundle
from fleetstats.report.bundle.pseudonyms import pseudonymous_study, read_key
from fleetstats.report.bundle.unpack import unpack_bundle
from fleetstats.report.bundle.verify import _departures as _told
from fleetstats.report.bundle.verify import verify_bundle
from fleetstats.studies.analyse import read_lives_of
from fleetstats.study.study import read_study

STUDY = """\
[study]
title = "Six \\"lives\\""
asked_by = "somebody who must not travel"
analysis_date = 2026-09-30

[[records]]
file = "lives.csv"
shape = "lives"
source = "A club that must not travel"
"""
LIVES = """\
engine,entry,exit,ending,cause,owner,note,last reading
SN-77,0,400,failed,piston,Owner One,private note,2026-01-03
SN-78,0,600,running,,Owner Two,,2026-09-01
SN-79,300,700,failed,valve,Owner One,,2025-02-01
"""
KEY = bytes(range(32))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "six-lives"
    place.mkdir()
    (place / "study.toml").write_text(STUDY, encoding="utf-8")
    (place / "lives.csv").write_text(LIVES, encoding="utf-8")
    return place


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stand in for the whole study: one result that follows from the records' bytes."""

    def run(study, name, *, versions=None):
        hours = [float(r.exit_h) for r in read_lives_of(study)[1].used]
        results = json.dumps({"sum_h": sum(hours), "name": name, "third": sum(hours) / 3})
        return None, {"results.json": results.encode(), "report.html": b"<p>page"}

    monkeypatch.setattr(verify_module, "report_members", run)


def pack(folder: Path, out: Path) -> Path:
    members = {f"study/{n}": (folder / n).read_bytes() for n in ("study.toml", "lives.csv")}
    study = read_study(folder)
    _, report = verify_module.report_members(study, study.name)
    members |= {f"report/{k}": v for k, v in report.items()}
    write_bundle(members, out, name=study.name, seed=study.settings.study.seed)
    return out


def rewrite(path: Path, change: Callable[[dict[str, bytes]], None]) -> Path:
    with zipfile.ZipFile(path) as z:
        members = {n: z.read(n) for n in z.namelist()}
    change(members)
    with zipfile.ZipFile(path, "w") as z:
        for n, data in members.items():
            z.writestr(n, data)
    return path


@pytest.mark.usefixtures("quick")
def test_an_unaltered_bundle_agrees_and_is_the_same_twice(folder: Path, tmp_path: Path) -> None:
    first, second = pack(folder, tmp_path / "a.zip"), pack(folder, tmp_path / "b.zip")
    assert first.read_bytes() == second.read_bytes()
    found = verify_bundle(first)
    assert found.verdict == "agrees"
    assert (found.n_figures, found.n_equal, found.faces_equal) == (3, 3, True)


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize(
    ("name", "old", "new", "verdict"),
    [
        ("study/lives.csv", b"700", b"710", "altered"),
        ("report/results.json", b"1700", b"1701", "altered"),
        ("report/report.html", b"<p>", b"<q>", "altered"),
    ],
)
def test_any_changed_byte_is_named(
    folder: Path, tmp_path: Path, name: str, old: bytes, new: bytes, verdict: str
) -> None:
    path = pack(folder, tmp_path / "a.zip")
    rewrite(path, lambda m: m.update({name: m[name].replace(old, new)}))
    found = verify_bundle(path)
    assert found.verdict == verdict
    assert found.altered == (name,)
    assert name in str(found)


@pytest.mark.usefixtures("quick")
def test_a_forged_list_is_caught_by_the_run_and_by_the_digest(folder: Path, tmp_path: Path) -> None:
    """Somebody makes a result better and signs it with a new list."""
    path = pack(folder, tmp_path / "a.zip")
    honest = unpack_bundle(path).digest

    def forge(m: dict[str, bytes]) -> None:
        import hashlib

        m["report/results.json"] = m["report/results.json"].replace(b"1700", b"1900")
        listed = json.loads(m[LIST])
        listed["files"]["report/results.json"]["sha256"] = hashlib.sha256(
            m["report/results.json"]
        ).hexdigest()
        m[LIST] = list_text(listed)

    rewrite(path, forge)
    found = verify_bundle(path)
    assert found.verdict == "altered"
    assert found.faces_altered == ("results.json",)
    assert [d.path for d in found.differences] == ["sum_h"]
    assert found.differences[0].bundled == "1900.0"
    assert verify_bundle(path, expect=honest).verdict == "altered"


@pytest.mark.usefixtures("quick")
def test_missing_and_added_files_are_named(folder: Path, tmp_path: Path) -> None:
    path = pack(folder, tmp_path / "a.zip")

    def change(m: dict[str, bytes]) -> None:
        del m["report/report.html"]
        m["report/more.txt"] = b"hello"

    found = verify_bundle(rewrite(path, change))
    assert (found.missing, found.extra) == (("report/report.html",), ("report/more.txt",))
    assert found.verdict == "altered"


@pytest.mark.usefixtures("quick")
def test_a_byte_of_the_zip_itself_is_named(folder: Path, tmp_path: Path) -> None:
    made = pack(folder, tmp_path / "a.zip")
    whole = made.read_bytes()
    assert verify_bundle(made).wrapped_alike
    at = whole.rindex(b"PK\x01\x02") + 12  # the time of the last member
    (tmp_path / "b.zip").write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
    (tmp_path / "c.zip").write_bytes(whole + b"\0" * 40)
    for name in ("b.zip", "c.zip"):
        found = verify_bundle(tmp_path / name)
        assert (found.verdict, found.wrapped_alike) == ("altered", False)
        assert "The zip around the files is not to the byte" in str(found)


def test_only_a_file_is_replaced(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")  # as any device would be
    with pytest.raises(ReportError, match="is no file"):
        write_bundle({"a": b"1"}, tmp_path / "pipe", name="x", seed=1)
    assert [x.name for x in tmp_path.iterdir()] == ["pipe"]
    assert not (tmp_path / "pipe").is_file()


def test_names_that_cannot_be_laid_out_are_refused(tmp_path: Path) -> None:
    for name, why in (("study/a/b", "a file and a folder"), (f"study/{'a' * 300}/b", "308 char")):
        members = {"study/a": b"1", name: b"2", "report/results.json": b"{}"}
        write_bundle(members, tmp_path / "x.zip", name="x", seed=1)
        with pytest.raises(ReportError, match=why):
            verify_bundle(tmp_path / "x.zip")


def test_a_study_that_cannot_be_laid_out_is_not_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_bundle(
        {"study/a": b"1", "report/results.json": b"{}"}, tmp_path / "x.zip", name="x", seed=1
    )

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    found = verify_bundle(tmp_path / "x.zip")
    assert found.verdict == "cannot-run"
    assert "cannot be laid out here (No space left" in found.trouble


@pytest.mark.usefixtures("quick")
def test_a_bundle_without_results_cannot_be_run(folder: Path, tmp_path: Path) -> None:
    members = {f"study/{n}": (folder / n).read_bytes() for n in ("study.toml", "lives.csv")}
    write_bundle(members, tmp_path / "a.zip", name="x", seed=1)
    assert verify_bundle(tmp_path / "a.zip").verdict == "cannot-run"


@pytest.mark.parametrize(
    "name", ["../out.txt", "/etc/out.txt", "a/../../out", "C:\\out", "a\\b", "a//b", "x\x1b[0m"]
)
def test_names_that_lead_out_are_refused(tmp_path: Path, name: str) -> None:
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as z:
        z.writestr(name, b"x")
    with pytest.raises(ReportError, match="leads out of its folder"):
        unpack_bundle(path)
    assert [p.name for p in tmp_path.iterdir()] == ["a.zip"]


def test_links_twins_and_bombs_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    link = zipfile.ZipInfo("study/link")
    link.external_attr = 0o120777 << 16
    with zipfile.ZipFile(path, "w") as z:
        z.writestr(link, b"/etc/passwd")
    with pytest.raises(ReportError, match="is a link"):
        unpack_bundle(path)
    with warnings.catch_warnings(), zipfile.ZipFile(path, "w") as z:
        warnings.simplefilter("ignore")
        z.writestr("a", b"1")
        z.writestr("a", b"2")
    with pytest.raises(ReportError, match=r"holds no bundle\.json"):
        unpack_bundle(path)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as z:
        z.writestr("a", bytes(4 * 2**20))
    with pytest.raises(ReportError, match="grows, when unpacked"):
        unpack_bundle(path)
    path.write_bytes(b"PK not a zip")
    with pytest.raises(ReportError, match="cannot be read as a zip"):
        unpack_bundle(path)
    with pytest.raises(ReportError, match="cannot be opened"):
        unpack_bundle(tmp_path / "none.zip")


def test_a_member_larger_than_its_header_says_is_refused(tmp_path: Path) -> None:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as z:
        z.writestr("a", b"x" * 100)
    raw = bytearray(data.getvalue())
    # the central directory's uncompressed size, at offset 24 of its record (PKZIP APPNOTE 4.3.12)
    at = raw.index(b"PK\x01\x02") + 24
    raw[at : at + 4] = (10).to_bytes(4, "little")
    path = tmp_path / "a.zip"
    path.write_bytes(bytes(raw))
    with pytest.raises(ReportError):
        unpack_bundle(path)


@pytest.mark.parametrize(
    "text", [b"{}", b"[1]", b"\xff", b'{"schema": "fleetstats/bundle/1"}', b"[" * 50_000]
)
def test_a_list_that_is_no_list_is_refused(tmp_path: Path, text: bytes) -> None:
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as z:
        z.writestr(LIST, text)
    with pytest.raises(ReportError, match="cannot be read"):
        unpack_bundle(path)


def test_figures_are_compared_leaf_by_leaf() -> None:
    before = {"a": 1.0, "b": [1, 2.0], "c": "x", "d": True, "provenance": {"versions": {"n": "1"}}}
    now = {"a": 1.0 + 1e-9, "b": [1, 2.5], "c": "x", "d": 1, "provenance": {"versions": {"n": "2"}}}
    equal, within, out = compare_figures(before, now, tolerance=1e-6)
    assert (equal, within) == (3, 1)  # b[0], b.length and c; a
    assert [d.path for d in out] == ["b[1]", "d", "provenance.versions.n"]
    assert out[0].relative == pytest.approx(0.2)


def test_pseudonyms_carry_no_identity_and_keep_the_lives(folder: Path, tmp_path: Path) -> None:
    study = read_study(folder)
    _, audit, built = read_lives_of(study)
    made = pseudonymous_study(study, tmp_path / "anew", key=KEY)
    text = "".join(p.read_text("utf-8") for p in (tmp_path / "anew").iterdir())
    for secret in ("SN-77", "SN77", "Owner", "private note", "must not travel", "2026-01-03",
                   "lives.csv", "Six"):  # fmt: skip
        assert secret not in text
    again = read_lives_of(made.study)[2]
    assert sorted(again.spells.exit_upper) == sorted(built.spells.exit_upper)  # whole hours
    assert sorted(again.spells.entry) == sorted(built.spells.entry)
    assert again.spells.n_failed == built.spells.n_failed
    kept = pseudonymous_study(study, tmp_path / "kept", keep=("study.title",)).study
    assert kept.settings.study.title == 'Six "lives"'
    assert "engine serials" in str(tell_leaving(study, audit))


def test_rules_about_sources_keep_their_effect_without_the_name(
    folder: Path, tmp_path: Path
) -> None:
    """A rule excludes the lives of one source; under pseudonyms it must still find them."""
    rule = (
        '[question]\nrules = [{ source = "a CLUB that must not travel ", ending = "failed", '
        'counts_as = "excluded", reason = "doubtful returns" }]\n'
    )
    (folder / "study.toml").write_text(
        STUDY.replace("[[records]]", rule + "[[records]]"), encoding="utf-8"
    )
    study = read_study(folder)
    assert len(read_lives_of(study)[2].spells) == 1  # the rule holds in the original
    anew = pseudonymous_study(study, tmp_path / "anew", key=KEY).study
    text = (tmp_path / "anew" / "study.toml").read_text("utf-8")
    assert "must not travel" not in text.lower()
    assert "doubtful returns" not in text
    assert len(read_lives_of(anew)[2].spells) == 1


def test_serials_go_as_pseudonyms_and_unknown_fates_stay(folder: Path, tmp_path: Path) -> None:
    serials = "\n".join(["serial", "SN-77", "SN-78", "SN-79", "SN-80", "SN-81"]) + "\n"
    (folder / "serials.csv").write_text(serials, encoding="utf-8")
    (folder / "study.toml").write_text(
        STUDY.replace("[[records]]", '[fleet]\nserials_file = "serials.csv"\n[[records]]'),
        encoding="utf-8",
    )
    study = read_study(folder)
    assert read_lives_of(study)[2].n_fate_unknown == 2
    anew = pseudonymous_study(study, tmp_path / "anew", key=KEY).study
    assert read_lives_of(anew)[2].n_fate_unknown == 2
    assert "SN-8" not in "".join(p.read_text("utf-8") for p in (tmp_path / "anew").iterdir())


def test_what_leaves_is_said_with_what_could_be_guessed(folder: Path) -> None:
    study = read_study(folder)
    audit = read_lives_of(study)[1]
    assert tell_leaving(study, audit).texts == ()
    told = tell_leaving(study, audit, keep=("study.title",))
    assert told.texts == ('study.title: Six "lives"',)
    assert told.recognisable[0].startswith("engines, by whoever knows their hours to 1 h")
    assert told.recognisable[-1] == "engines with a cause told of once: piston and valve"
    assert "setting study.asked_by" in told.stays
    text = str(told)
    assert text.index("Leaves:") < text.index("Words that leave") < text.index("Stays:")


@pytest.mark.parametrize(
    "line", ['file = "../outside.csv"', 'file = "/etc/hostname"', 'file = "study.toml/../../x"']
)
def test_a_study_that_points_out_of_its_bundle_is_not_run(tmp_path: Path, line: str) -> None:
    """Names of members are checked when unpacking; names inside the study file when reading it."""
    (tmp_path / "outside.csv").write_text("engine,exit_hours,ending\nE-1,1,running\n")
    study = f'[study]\ntitle = "x"\nanalysis_date = 2026-01-01\n[[records]]\n{line}\n'
    members = {"study/study.toml": study.encode(), "report/results.json": b"{}"}
    write_bundle(members, tmp_path / "b.zip", name="x", seed=1)
    found = verify_bundle(tmp_path / "b.zip")
    assert found.verdict == "cannot-run"
    assert "within the study's folder" in found.trouble


def test_a_study_that_asks_for_endless_work_is_not_run(tmp_path: Path) -> None:
    study = (
        '[study]\ntitle = "x"\nanalysis_date = 2026-01-01\n[evidence]\nresamples = 2000000000\n'
        '[[records]]\nfile = "lives.csv"\n'
    )
    members = {
        "study/study.toml": study.encode(),
        "study/lives.csv": b"engine,exit_hours,ending\nE-1,1,running\n",
        "report/results.json": b"{}",
    }
    write_bundle(members, tmp_path / "b.zip", name="x", seed=1)
    found = verify_bundle(tmp_path / "b.zip")
    assert found.verdict == "cannot-run"
    assert "evidence.resamples" in found.trouble


def test_pseudonyms_need_the_key(tmp_path: Path) -> None:
    other = bytes(32)
    assert pseudonym("SN-77", KEY, "engine") == pseudonym("SN-77", KEY, "engine")
    assert pseudonym("SN-77", KEY, "engine") != pseudonym("SN-77", other, "engine")
    path = tmp_path / "k.key"
    assert read_key(path) == read_key(path)
    assert path.stat().st_mode & 0o077 == 0
    path.write_text("abcd")
    with pytest.raises(ReportError, match="too short"):
        read_key(path)


@pytest.mark.parametrize("value", ['a"b', "a\\b", "a\nb = 1", "\x00", True, 1.5, ["x", 2]])
def test_settings_survive_the_way_through_toml(value: object) -> None:
    import tomllib

    assert tomllib.loads(f"k = {toml_value(value)}")["k"] == value


@pytest.mark.slow
def test_the_whole_road(folder: Path, tmp_path: Path) -> None:
    """A real study, bundled, moved, verified: every figure and every byte again."""
    from fleetstats.report.bundle.pack import pack_bundle

    pack_bundle(read_study(folder), tmp_path / "a.zip")
    shutil.move(folder, tmp_path / "elsewhere")
    found = verify_bundle(tmp_path / "a.zip")
    assert found.verdict == "agrees"
    assert found.n_equal == found.n_figures
    assert found.faces_equal


def test_choices_of_the_study_act_in_a_bundle_under_pseudonyms_too(tmp_path: Path) -> None:
    """A map that makes failures planned overhauls is a departure there as at home.

    Forty invented engines, no source.
    """
    home = tmp_path / "home"
    home.mkdir()
    rows = [f"E{i},{500 + i},{'failed' if i < 4 else 'running'}" for i in range(40)]
    (home / "smith club.csv").write_text("\n".join(["engine,exit_hours,ending", *rows, "X,no,?"]))
    (home / "study.toml").write_text(
        '[study]\ntitle = "t"\nanalysis_date = 2026-01-01\n[evidence]\nresamples = 200\n'
        '[treat]\nending-missing = "set-aside"\nhours-unreadable = "set-aside"\n'
        '[[records]]\nfile = "smith club.csv"\nendings = { failed = "planned-overhaul" }\n'
    )
    made = pseudonymous_study(read_study(home), tmp_path / "sent")
    said = [
        f"{d.said}: {d.effect}"
        for d in list_departures(made.study, *read_lives_of(made.study)).items
    ]
    assert (
        "“failed” of file-1.csv is read as planned overhaul: 4 rows, all of them failures by the "
        "word itself"
    ) in said
    assert made.origin.unlike == ()
    assert made.origin.account["set_aside"] == 1


def test_what_a_list_says_of_its_origin_is_what_its_study_says(
    folder: Path, tmp_path: Path, quick: None
) -> None:
    out, made = tmp_path / "b.zip", pseudonymous_study(read_study(folder), tmp_path / "study")
    members = {f"study/{p.name}": p.read_bytes() for p in made.study.folder.iterdir()}
    _, report = verify_module.report_members(made.study, "study")
    members |= {f"report/{k}": v for k, v in report.items()}
    told = made.origin.told
    for origin, verdict in (
        (told, "agrees"),
        (told | {"moved_h": 0.1}, "altered"),
        ({}, "altered"),
    ):
        write_bundle(members, out, name="study", seed=20260101, origin=origin)
        found = verify_bundle(out)
        assert found.verdict == verdict, found
        assert ("its origin" in str(found)) == (verdict == "altered")
    assert "Names of engines" in " ".join(_told(told))


def test_the_ledger_of_looks_goes_along_and_the_bundle_agrees(folder: Path, tmp_path: Path) -> None:
    """Its own look stands in it too; an edited ledger is altered bytes and still can be run."""
    from fleetstats.study.history import HISTORY_FILE, LedgerLook, append_look

    append_look(folder, LedgerLook(verb="study", date="2025-09-30", data="earlier"))
    zipped = tmp_path / "a.zip"
    pack_bundle(read_study(folder), zipped)
    with zipfile.ZipFile(zipped) as archive:
        members = {n: archive.read(n) for n in archive.namelist()}
    assert members[f"study/{HISTORY_FILE}"] == (folder / HISTORY_FILE).read_bytes()
    assert b"this is look 2" in members["report/report.json"]
    assert len((folder / HISTORY_FILE).read_bytes().splitlines()) == 2, "packing is no look"
    found = verify_bundle(zipped)
    assert (found.verdict, found.faces_equal) == ("agrees", True)
    members[f"study/{HISTORY_FILE}"] = b"\x00\xff"
    with zipfile.ZipFile(zipped, "w") as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    found = verify_bundle(zipped)
    assert found.verdict == "altered"
    assert f"study/{HISTORY_FILE}" in found.altered


def test_the_ledger_stays_at_home_with_pseudonyms(folder: Path, tmp_path: Path) -> None:
    from fleetstats.study.history import HISTORY_FILE, LedgerLook, append_look

    study = read_study(folder)
    before = pseudonymous_study(study, tmp_path / "x", key=KEY).origin
    assert before.looks == {"made": 0, "as_written": True}
    append_look(folder, LedgerLook(verb="study", date="2025-09-30", data="earlier"))
    told = pseudonymous_study(study, tmp_path / "y", key=KEY).origin
    assert told.looks == {"made": 1, "as_written": True}
    assert told.keyed_hashes == before.keyed_hashes
    assert not (tmp_path / "y" / HISTORY_FILE).exists()
    assert any(
        "ledger of earlier looks" in x for x in tell_leaving(study, read_lives_of(study)[1]).stays
    )
