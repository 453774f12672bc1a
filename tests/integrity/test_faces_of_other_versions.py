"""What can be said of faces that other versions drew: the same, other, or not judged and why.

Made-up documents and pictures, no source; the formats by ISO 32000-1, PNG and PKZIP's APPNOTE.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from cases_tampering import BOOK, LIVES, PAGE, PAPER, claim, swap, versions_of, with_comment
from tampered import Bundle, make_honest

from fleetstats.core.program import PROGRAM, digest_folder, program_digest
from fleetstats.report.bundle import verify as verify_module
from fleetstats.report.bundle.environment import environment_here
from fleetstats.report.bundle.likeness import (
    LAST_DIGIT,
    LOOKS_ALIKE,
    OTHER_SIZE,
    SAME,
    UNLIKE,
    UNREAD,
    WORDS_ONLY,
    likeness,
    text_likeness,
)
from fleetstats.report.bundle.pack import pack_bundle
from fleetstats.report.bundle.pdf_text import pdf_text
from fleetstats.report.bundle.unpack import unpack_bundle
from fleetstats.report.bundle.verify import Verification, verify_bundle
from fleetstats.report.bundle.wrapping import wrapped_plainly
from fleetstats.study.study import read_study


def alike(name: str, before: bytes, now: bytes) -> str:
    return likeness(name, before, now, tolerance=1e-6)


@pytest.mark.parametrize(
    ("before", "now", "found"),
    [
        ("at most 13.2 % fail", "at most 13.2 % fail", SAME),
        ("1.00000001", "1.00000002", SAME),
        ("at most 13.2 % fail", "at most 13.3 % fail", LAST_DIGIT),
        ("to 1,204 h", "to 1,203 h", LAST_DIGIT),
        ("at most 13.2 % fail", "at most 13.4 % fail", UNLIKE),
        ("at most 13 % fail", "at most 12 % fail", UNLIKE),  # so few digits are a count
        ("3 failures turn it", "4 failures turn it", UNLIKE),
        ("not shown", "shown", UNLIKE),
        ("2026-01-03", "2026-01-04", UNLIKE),
        ("on 1.5 and 2.5", "on 1.5", UNLIKE),
    ],
)
def test_a_rounding_is_told_from_a_change(before: str, now: str, found: str) -> None:
    assert text_likeness(before, now, tolerance=1e-6) == found
    assert alike("a.html", before.encode(), now.encode()) == found


def paper(text: str, width: str = "12cm") -> bytes:
    import typst

    source = f"#set page(width: {width}, height: 8cm)\n{text}\n"
    return bytes(typst.compile(source.encode(), format="pdf", timestamp=0))


WORDS = (
    "The claim (of 1,200 h) is not yet shown: at most 13.25 \\% fail, where 10.5 \\% is accepted."
)


def test_words_of_paper_by_its_own_maps_of_letters() -> None:
    assert pdf_text(paper(WORDS)) == re.sub(r"[\s\\-]", "", WORDS)


@pytest.mark.parametrize(
    ("now", "width", "found"),
    [
        (WORDS, "7cm", WORDS_ONLY),  # broken into other lines
        (WORDS.replace("not yet ", ""), "12cm", UNLIKE),
        (WORDS.replace("13.25", "13.26"), "12cm", LAST_DIGIT),
        (WORDS.replace("13.25", "23.25"), "12cm", UNLIKE),
        (WORDS + " #pagebreak() Signed.", "12cm", UNLIKE),
    ],
)
def test_paper_that_another_typesetter_set(now: str, width: str, found: str) -> None:
    assert alike("report.pdf", paper(WORDS), paper(now, width)) == found


def test_paper_that_cannot_be_read_or_says_more() -> None:
    """An update at its end that puts another page in the place of one is read as readers do."""
    honest, other = paper(WORDS), paper("All is well.")
    assert alike("report.pdf", b"%PDF-1.7\n%%EOF\n", honest) == UNREAD
    page = re.search(rb"/Contents (\d+) 0 R", honest)
    content = re.search(rb"/Contents (\d+) 0 R", other)
    assert page
    assert content
    stream = re.search(rb"(?<=\s)" + content[1] + rb" 0 obj\s(.*?)endobj", other, re.DOTALL)
    assert stream
    update = b"\n" + page[1] + b" 0 obj\n" + stream[1] + b"endobj\n%%EOF\n"
    assert alike("report.pdf", honest + update, honest) == UNLIKE


def packed_anew(pdf: bytes, edit: Callable[[bytes], bytes] = lambda x: x) -> bytes:
    """Pack every stream of a PDF anew and write its table of places again."""
    body = pdf[: pdf.rindex(b"xref\n0 ")]
    out, places = b"", {}
    parts = re.split(rb"(?m)^(?=\d+ 0 obj\n)", body)
    for part in parts:
        if found := re.match(rb"\d+", part):
            places[int(found[0])] = len(out)
        head, stream, rest = part.partition(b"stream\n")
        if stream and b"/FlateDecode" in head:
            content, after = rest.split(b"\nendstream", 1)
            packed = zlib.compress(edit(zlib.decompress(content)), 1)
            head = re.sub(rb"/Length \d+", b"/Length %d" % len(packed), head)
            part = head + stream + packed + b"\nendstream" + after
        out += part
    n = max(places) + 1
    lines = b"".join(
        b"%010d 00000 n\r\n" % places[i] if i in places else b"0000000000 65535 f\r\n"
        for i in range(n)
    )
    trailer = pdf[pdf.rindex(b"trailer") : pdf.rindex(b"startxref")]
    return out + b"xref\n0 %d\n" % n + lines + trailer + b"startxref\n%d\n%%%%EOF" % len(out)


def test_paper_is_judged_whole_object_by_object() -> None:
    """Packed otherwise it is the same; with a colour, a byte or an object more it is not."""
    honest = paper(WORDS + "\n#line(length: 3cm)")
    again = packed_anew(honest)
    assert again != honest
    assert alike("report.pdf", again, honest) == SAME

    def hidden(x: bytes) -> bytes:
        return x.replace(b"BT", b"BT 3 Tr", 1)  # drawn in no ink (ISO 32000-1, 9.3.6)

    assert alike("report.pdf", packed_anew(honest, hidden), honest) == WORDS_ONLY
    for bent in (
        again + b"\n",
        b"%PDF-1.7\n" + again,
        again.replace(b"\nendstream", b"x\nendstream", 1),
        again.replace(b"endobj\n", b"endobj\n% x\n", 1),
    ):
        assert bent != again
        assert alike("report.pdf", bent, honest) in (WORDS_ONLY, UNREAD)


def book(change: Callable[[object], object] = lambda b: None) -> bytes:
    import openpyxl

    b = openpyxl.Workbook()
    b.active.append(["Hours", 1200.123456789])
    b.create_sheet("More").append(["Shown", "no"])
    change(b)
    out = io.BytesIO()
    b.save(out)
    return out.getvalue()


def repacked(
    data: bytes, edit: Callable[[str, bytes], bytes] = lambda n, d: d, level: int = 1
) -> bytes:
    """Pack a zip anew, as another library or version might, with its times as they were."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for i in old.infolist():
            info = zipfile.ZipInfo(i.filename, i.date_time)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr, info.create_system = i.external_attr, i.create_system
            new.writestr(info, edit(i.filename, old.read(i)), compresslevel=level)
    return out.getvalue()


def in_part(part: str, old: bytes, new: bytes) -> Callable[[str, bytes], bytes]:
    def edit(name: str, data: bytes) -> bytes:
        if not re.search(part, name):
            return data
        assert old in data
        return data.replace(old, new)

    return edit


@pytest.mark.parametrize(
    ("part", "old", "new", "found"),
    [
        ("sheet1", b"Hours", b"Hours", SAME),  # packed otherwise, nothing else
        ("sheet1", b"1200.123456789", b"1200.123456788", SAME),
        ("sheet1", b"1200.123456789", b"1300.123456789", UNLIKE),
        ("sheet2", b">no<", b">yes<", UNLIKE),
        ("workbook.xml$", b'name="More"', b'name="Less"', UNLIKE),
        ("workbook.xml$", b'sheetId="2" state="visible"', b'sheetId="2" state="hidden"', UNLIKE),
        ("sheet2", b'<row r="1"', b'<row hidden="1" r="1"', UNLIKE),
        ("styles", b"Calibri", b"Cambria", WORDS_ONLY),
        ("sheet2", b"<worksheet", b"<!DOCTYPE a []><worksheet", UNLIKE),
    ],
)
def test_a_workbook_that_another_library_wrote(
    part: str, old: bytes, new: bytes, found: str
) -> None:
    honest = book()
    assert any(re.search(part, n) for n in zipfile.ZipFile(io.BytesIO(honest)).namelist())
    changed = repacked(honest, in_part(part, old, new))
    assert changed != honest
    assert alike("tables.xlsx", changed, honest) == found


def test_a_workbook_with_a_part_more_or_bytes_beside() -> None:
    honest = book()
    assert alike("tables.xlsx", book(lambda b: b.create_sheet("Approved")), honest) == UNLIKE
    assert alike("tables.xlsx", with_comment(honest), honest) == UNLIKE
    assert alike("tables.xlsx", honest + b"\0", honest) == UNLIKE
    assert alike("tables.xlsx", b"no zip", honest) == UNLIKE


def picture(points: np.ndarray, **more: object) -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(points.astype(np.uint8), "RGBA").save(out, "PNG", **more)
    return out.getvalue()


def drawn(shift: int = 0, side: int = 96) -> np.ndarray:
    points = np.full((side, side, 4), 255)
    points[:, 40 + shift : 44 + shift, :3] = 20
    return points


def test_a_picture_that_another_library_drew() -> None:
    from PIL.PngImagePlugin import PngInfo

    honest, note = picture(drawn()), PngInfo()
    note.add_text("Comment", "approved")
    soft = drawn()
    soft[:, (39, 44), :3] = 200  # softer edges
    cases = (
        (picture(drawn(), compress_level=1), SAME),
        (picture(drawn() - np.array([2, 2, 2, 0])), SAME),
        (picture(soft), LOOKS_ALIKE),
        (picture(drawn(12)), UNLIKE),
        (picture(drawn(side=98)), OTHER_SIZE),
        (picture(drawn(side=120)), UNLIKE),
        (picture(drawn(), pnginfo=note), UNLIKE),
        (honest + b"\0", UNLIKE),
        (b"no picture", UNLIKE),
        (honest[:-6], UNLIKE),
    )
    for data, found in cases:
        assert alike("figures/a.png", data, honest) == found


@pytest.fixture(scope="module")
def honest(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_honest(tmp_path_factory.mktemp("honest"))


@pytest.fixture(scope="module", autouse=True)
def runs_once() -> Iterator[None]:
    real, kept = verify_module.report_members, {}

    def run(study, name, *, versions=None):
        inputs = tuple(verify_module.study_members(study).items())
        key = (inputs, tuple((versions or {}).items()))
        if key not in kept:
            kept[key] = real(study, name, versions=versions)
        return kept[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(verify_module, "report_members", run)
        yield


def found_of(
    b: Bundle, place: Path, zipped: Callable[[bytes], bytes] = lambda d: d
) -> Verification:
    b.list_again()
    (place / "b.zip").write_bytes(zipped(b.pack()))
    return verify_bundle(place / "b.zip")


def test_an_honest_bundle_that_another_library_packed_agrees(honest: Path, tmp_path: Path) -> None:
    """Zip and workbook in other packed bytes, all else the same; with a comment it does not."""
    b = Bundle.read(honest)
    claim(zlib="1.2.8")(b)
    b.members[BOOK] = repacked(b.members[BOOK])
    found = found_of(b, tmp_path, repacked)
    assert (found.verdict, found.faces_equal) == ("agrees", False)
    assert found.faces_differing == ("manifest.json", "tables.xlsx")
    for more in (with_comment, lambda d: d + b"\0", lambda d: b"#!" + d):
        assert found_of(b, tmp_path, lambda d, m=more: m(repacked(d))).verdict == "in-part"
    assert found_of(Bundle.read(honest), tmp_path, repacked).verdict == "altered"


def test_a_zip_is_plain_or_holds_more(honest: Path) -> None:
    data = repacked(honest.read_bytes())
    assert wrapped_plainly(data)
    assert wrapped_plainly(honest.read_bytes())
    entry, local = data.rindex(b"PK\x01\x02"), data.index(b"PK\x03\x04")
    for at in (*(entry + k for k in (4, 8, 10, 12, 36, 38)), *(local + k for k in (4, 6, 10))):
        bent = bytearray(data)
        bent[at] ^= 1
        assert not wrapped_plainly(bytes(bent)), at - entry
    assert not wrapped_plainly(b"no zip")


def test_bytes_behind_a_packed_member_are_seen() -> None:
    """A stream that ends before its packed size does: what follows is read by nobody."""
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    packed = packer.compress(b"a" * 50) + packer.flush()
    for more, plain in ((b"", True), (b"hidden", False)):
        body, crc = packed + more, zlib.crc32(b"a" * 50)
        shared = (0, 8, 0, 33, crc, len(body), 50)
        local = struct.pack("<4s5H3L2H", b"PK\3\4", 20, *shared, 1, 0) + b"a" + body
        entry = struct.pack("<4s6H3L5H2L", b"PK\1\2", 3 << 8 | 20, 20, *shared, 1, 0, 0, 0, 0,
                            0o100644 << 16, 0) + b"a"  # fmt: skip
        end = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, 1, 1, len(entry), len(local), 0)
        assert wrapped_plainly(local + entry + end) is plain


def test_another_state_of_the_program_under_the_same_version(honest: Path, tmp_path: Path) -> None:
    """Its faces may be worded otherwise: they are not judged, and what helps is said."""
    b = Bundle.read(honest)
    assert b.listed["environment"][PROGRAM] == program_digest()
    claim(**{PROGRAM: "0" * 16})(b)
    swap(PAGE, "too few", "not enough")(b)
    found = found_of(b, tmp_path)
    assert (found.verdict, found.faces_unjudged) == ("in-part", ("report.html",))
    told = str(found)
    assert "AGREES IN PART" in told
    assert "another state of this program made it" in told
    assert "says the same version, but its own files are others" in told
    versions_of(b, fleetstats="0.0.9")
    assert "says the same version" not in str(found_of(b, tmp_path))


def test_the_digest_of_a_program_follows_its_files(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "b.py").write_text("x = 1\n", "utf-8")
    first = digest_folder(tmp_path)
    (tmp_path / "__pycache__").mkdir()
    (tmp_path / "__pycache__" / "b.pyc").write_bytes(b"1")
    assert digest_folder(tmp_path) == first
    (tmp_path / "a" / "b.py").write_text("x = 2\n", "utf-8")
    second = digest_folder(tmp_path)
    (tmp_path / "a" / "b.py").rename(tmp_path / "a" / "c.py")
    assert len({first, second, digest_folder(tmp_path)}) == 3
    assert environment_here()[PROGRAM] == program_digest()


def test_paper_of_another_typesetter_is_read_and_its_look_is_not_judged(
    honest: Path, tmp_path: Path
) -> None:
    b = Bundle.read(honest)
    claim(typst="0.1.0")(b)
    words = pdf_text(b.members[PAPER])
    assert "toofew" in words
    b.members[PAPER] = b.members[PAPER].replace(b"%\x80\x80\x80\x80", b"%\x81\x80\x80\x80", 1)
    found = found_of(b, tmp_path)
    assert (found.verdict, found.faces_why) == ("in-part", (WORDS_ONLY,))
    assert f"not judged whole, since {WORDS_ONLY}: report.pdf" in str(found)
    b.members[PAPER] = b"%PDF-1.7\n%%EOF\n"
    assert found_of(b, tmp_path).verdict == "in-part"
    b.listed["environment"] |= {"typst": environment_here()["typst"], "machine": "Linux other"}
    found = found_of(b, tmp_path)  # the same typesetter does not write paper like that
    assert (found.verdict, found.faces_altered) == ("altered", ("report.pdf",))
    claim(typst="0.1.0")(b)
    b.members[PAPER] = paper("All is well.")
    found = found_of(b, tmp_path)
    assert (found.verdict, found.faces_altered) == ("altered", ("report.pdf",))


def test_a_forgery_by_a_new_run_agrees_with_itself_and_only_the_digest_tells(
    honest: Path, tmp_path: Path
) -> None:
    """Changed records, and everything made anew from them: no look inside can tell.

    So "agrees" must never sound like more.
    """
    b = Bundle.read(honest)
    b.swap(LIVES, "400,failed,piston", "400,running,")
    folder = tmp_path / b.listed["name"]
    folder.mkdir()
    for n in ("study.toml", "lives.csv"):
        (folder / n).write_bytes(b.members[f"study/{n}"])
    pack_bundle(read_study(folder), tmp_path / "forged.zip")
    found = verify_bundle(tmp_path / "forged.zip")
    assert found.verdict == "agrees"
    assert str(found).startswith("Agrees with itself; nothing outside vouches for it.")
    assert "unaltered" not in str(found).lower()
    digest = unpack_bundle(honest).digest
    held = verify_bundle(tmp_path / "forged.zip", expect=digest)
    assert (held.verdict, held.good) == ("altered", False)
