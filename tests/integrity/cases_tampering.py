"""Ways of tampering with a bundle: inputs, faces, list, zip, and false claims of other versions."""

from __future__ import annotations

import io
import json
import re
import warnings
import zipfile
from collections.abc import Callable

from tampered import Bundle, Tampering, sha

PAGE, PAPER, BOOK = "report/report.html", "report/report.pdf", "report/tables.xlsx"
BRIEF = "report/brief.pdf"
RESULTS, DOCUMENT, MANIFEST = (
    "report/results.json", "report/report.json", "report/manifest.json",
)  # fmt: skip
LIVES, STUDY = "study/lives.csv", "study/study.toml"
SVG, PNG, FIGURE = (f"report/figures/survival.{e}" for e in ("svg", "png", "csv"))
CHECK = "report/check/"
Change = Callable[[Bundle], object]


def swap(name: str, old: str | bytes, new: str | bytes) -> Change:
    return lambda b: b.swap(name, old, new)


def add(name: str, data: bytes) -> Change:
    return lambda b: b.members.update({name: data})


def append(name: str, data: bytes) -> Change:
    return lambda b: b.members.update({name: b.members[name] + data})


def drop(name: str) -> Change:
    return lambda b: b.members.pop(name)


def say(**told: object) -> Change:
    return lambda b: b.listed.update(told)


def claim(**versions: str) -> Change:
    return lambda b: b.listed["environment"].update(versions)


def both(*changes: Change) -> Change:
    return lambda b: [c(b) for c in changes]


def exchange(a: str, b: str) -> Change:
    return lambda x: x.members.update({a: x.members[b], b: x.members[a]})


def a_figure(factor: float) -> Change:
    """Change the first fraction that results hold by a factor."""

    def change(b: Bundle) -> None:
        text = b.members[RESULTS].decode()
        found = re.search(r"(?<=: )\d+\.\d{6,}", text)
        assert found
        new = repr(float(found[0]) * factor)
        b.members[RESULTS] = (text[: found.start()] + new + text[found.end() :]).encode()

    return change


def a_cell(b: Bundle) -> None:
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(b.members[BOOK]))
    book.worksheets[0].cell(2, 2).value = "all is well"
    out = io.BytesIO()
    book.save(out)
    b.members[BOOK] = out.getvalue()


def a_sheet_hidden(b: Bundle) -> None:
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(b.members[BOOK]))
    book.worksheets[1].sheet_state = "hidden"
    out = io.BytesIO()
    book.save(out)
    b.members[BOOK] = out.getvalue()


def a_row_less(name: str) -> Change:
    def change(b: Bundle) -> None:
        b.members[name] = b"".join(b.members[name].splitlines(keepends=True)[:-1])

    return change


def doubled(name: str, key: str, value: str) -> Change:
    """Put a key that is there a second time in front; most readers then take the later one."""

    def change(b: Bundle) -> None:
        text = b.members[name]
        assert f'"{key}"'.encode() in text
        b.members[name] = text.replace(b"{", f'{{"{key}": {value},'.encode(), 1)

    return change


def list_as(write: Callable[[Bundle], bytes]) -> Change:
    def change(b: Bundle) -> None:
        b.text = write(b)

    return change


def flip(name: str, at: int) -> Change:
    def change(b: Bundle) -> None:
        data = bytearray(b.members[name])
        data[at] ^= 1
        b.members[name] = bytes(data)

    return change


def plain(b: Bundle) -> str:
    return json.dumps(b.listed, indent=2, ensure_ascii=False, sort_keys=True)


def told_of(name: str, **told: object) -> Change:
    return lambda b: b.listed["files"][name].update(told)


ORIGIN = {
    "identities": "pseudonyms", "rows_read": 900, "rows_used": 900, "rows_set_aside": 0,
    "reasons": {}, "meters": {}, "factors": {}, "departures": [],
    "looks": {"made": 0, "as_written": True}, "keyed_hashes": {},
}  # fmt: skip

INPUTS = (
    Tampering(name="hours of a life", change=swap(LIVES, "700", "710")),
    Tampering(name="ending of a life", change=swap(LIVES, "failed,valve", "running,")),
    Tampering(name="cause of a life", change=swap(LIVES, "valve", "piston")),
    Tampering(name="a life left out", change=a_row_less(LIVES)),
    Tampering(name="a life added", change=append(LIVES, b"SN-80,0,900,running,,2026-09-01\n")),
    Tampering(name="a blank line after the lives", change=append(LIVES, b"\n")),
    Tampering(name="a mark before the lives",
              change=lambda b: b.members.update({LIVES: b"\xef\xbb\xbf" + b.members[LIVES]})),
    Tampering(name="seed of the study", change=swap(STUDY, "seed = 11", "seed = 12")),
    Tampering(name="seed of study and list",
              change=both(swap(STUDY, "seed = 11", "seed = 12"), say(seed=12))),
    Tampering(name="title of the study", change=swap(STUDY, "Six lives", "Sixty lives")),
    Tampering(name="a comment in the study", change=append(STUDY, b"# looked through\n")),
    Tampering(name="a doubled key in the study", change=swap(STUDY, "seed = 11", "seed = 11\nseed = 12")),  # noqa: E501
    Tampering(name="hours without a new list", change=swap(LIVES, "700", "710"), listed=False),
    Tampering(name="a ledger of looks added", change=add("study/history.jsonl", b"{}\n")),
    Tampering(name="no records", change=drop(LIVES)),
    Tampering(name="no study file", change=drop(STUDY)),
)  # fmt: skip

FACES = (
    Tampering(name="a word of the page", change=swap(PAGE, "too few", "enough")),
    Tampering(name="a word of the page without a new list",
              change=swap(PAGE, "too few", "enough"), listed=False),
    Tampering(name="page hidden by a style",
              change=swap(PAGE, "</head>", "<style>main{display:none}</style></head>")),
    Tampering(name="page with a script",
              change=swap(PAGE, "</body>", "<script>alert(1)</script></body>")),
    Tampering(name="a comment in the page", change=append(PAGE, b"<!-- -->")),
    Tampering(name="another page", change=add(PAGE, b"<p>All is well</p>")),
    Tampering(name="a page that is no text", change=add(PAGE, b"\xff\xfe\x00")),
    Tampering(name="another paper", change=add(PAPER, b"%PDF-1.7\n%%EOF\n")),
    Tampering(name="a bit of the paper", change=flip(PAPER, 2000)),
    Tampering(name="bytes after the paper", change=append(PAPER, b"\n")),
    Tampering(name="an update after the paper",
              change=append(PAPER, b"\n1 0 obj\n<</Type/Pages/Count 0/Kids[]>>\nendobj\n%%EOF\n")),
    Tampering(name="another brief", change=add(BRIEF, b"%PDF-1.7\n%%EOF\n")),
    Tampering(name="paper of no bytes", change=add(PAPER, b"")),
    Tampering(name="a cell of the workbook", change=a_cell),
    Tampering(name="a sheet of the workbook hidden", change=a_sheet_hidden),
    Tampering(name="bytes after the workbook", change=append(BOOK, b"\0")),
    Tampering(name="a word of the document", change=swap(DOCUMENT, "too few", "enough")),
    Tampering(name="a doubled key in the document", change=doubled(DOCUMENT, "answer", "[]")),
    Tampering(name="blanks after the document", change=append(DOCUMENT, b" ")),
    Tampering(name="a figure of the results", change=a_figure(1.1)),
    Tampering(name="a last digit of the results", change=a_figure(1 + 1e-12)),
    Tampering(name="a doubled key in the results", change=doubled(RESULTS, "provenance", "{}")),
    Tampering(name="results that are no JSON", change=add(RESULTS, b"{")),
    Tampering(name="results nested deep", change=add(RESULTS, b"[" * 100_000)),
    Tampering(name="empty results", change=add(RESULTS, b"{}")),
    Tampering(name="a version in the results",
              change=lambda b: b.members.update({RESULTS: re.sub(
                  rb'"numpy": "[^"]*"', b'"numpy": "1.0"', b.members[RESULTS], count=1)})),
    Tampering(name="a figure's numbers", change=a_row_less(FIGURE)),
    Tampering(name="line ends of a figure's numbers",
              change=lambda b: b.members.update({FIGURE: b.members[FIGURE].replace(b"\n", b"\r\n\n")})),  # noqa: E501
    Tampering(name="a drawing moved", change=swap(SVG, "<svg", '<svg x="1"')),
    Tampering(name="drawings exchanged", change=exchange(SVG, "report/figures/risk.svg")),
    Tampering(name="pictures exchanged", change=exchange(PNG, "report/figures/risk.png")),
    Tampering(name="bytes after a picture", change=append(PNG, b"\0")),
    Tampering(name="a checker that always agrees", change=swap(f"{CHECK}check.py", "return 1", "return 0")),  # noqa: E501
    Tampering(name="a blank in the other checker", change=append(f"{CHECK}check.R", b" ")),
    Tampering(name="an answer of the checkers", change=swap(
        f"{CHECK}answers.csv", "engines,engines,3.0", "engines,engines,4.0")),
    Tampering(name="a figure of the selftest", change=swap("report/selftest.csv", "606.528", "606.529")),  # noqa: E501
    Tampering(name="manifest as it was", change=both(
        swap(PAGE, "too few", "enough"), lambda b: setattr(b, "manifest_too", False))),
    Tampering(name="a doubled key in the manifest", change=both(
        lambda b: setattr(b, "manifest_too", False), doubled(MANIFEST, "schema", '"x"'))),
    Tampering(name="the report's number in the manifest", change=swap(MANIFEST, '"report_id": "', '"report_id": "0')),  # noqa: E501
)  # fmt: skip

MEMBERS = (
    Tampering(name="an unexpected file at the top", change=add("README.txt", b"Signed.")),
    Tampering(name="an unexpected file of the study", change=add("study/more.csv", b"a\n")),
    Tampering(name="an unexpected file of the report", change=add("report/brief.pdf", b"%PDF")),
    Tampering(name="an unexpected picture", change=add("report/figures/zz.png", b"\x89PNG")),
    Tampering(name="a page under a like name", change=add("report/Report.html", b"<p>")),
    Tampering(name="an unlisted file", change=add("NOTE", b"x"), listed=False),
    *(
        Tampering(name=f"no {name.rpartition('/')[2]}", change=drop(name))
        for name in (PAGE, PAPER, BRIEF, BOOK, DOCUMENT, RESULTS, MANIFEST, SVG, PNG, FIGURE)
    ),
    Tampering(name="no page and the old list", change=drop(PAGE), listed=False),
)  # fmt: skip

LIST = (
    Tampering(name="name in the list", after=say(name="sixty-lives")),
    Tampering(name="name and command in the list",
              after=say(name="sixty-lives", command="fleetstats study sixty-lives")),
    Tampering(name="command in the list", after=say(command="fleetstats study six-lives --ok")),
    Tampering(name="seed in the list", after=say(seed=12)),
    Tampering(name="a key more in the list", after=say(approved="yes")),
    Tampering(name="a key less in the list", after=lambda b: b.listed.pop("origin")),
    Tampering(name="an origin in the list", after=say(origin=ORIGIN)),
    Tampering(name="an origin of other keys", after=say(origin={"checked_by": "somebody"})),
    Tampering(name="another version in the list", after=claim(numpy="1.0")),
    Tampering(name="no versions in the list", after=say(environment={})),
    Tampering(name="versions that are none", after=claim(numpy="\x1b[2J")),
    Tampering(name="a size in the list", after=told_of(PAGE, size_bytes=1)),
    Tampering(name="a digest in the list", after=told_of(PAGE, sha256=sha(b"x"))),
    Tampering(name="a file's entry with more", after=told_of(PAGE, note="checked")),
    Tampering(name="a doubled key in the list",
              after=list_as(lambda b: plain(b).replace("{", '{"seed": 3,', 1).encode())),
    Tampering(name="a doubled file in the list", after=list_as(lambda b: plain(b).replace(
        '"files": {', '"files": {"study/lives.csv": {},', 1).encode())),
    Tampering(name="blanks in the list", after=list_as(lambda b: plain(b).encode() + b"\n")),
    Tampering(name="half a character in the list", after=both(
        say(seed=11), list_as(lambda b: plain(b).replace(
            '"origin": {}', '"origin": {"\\ud800": 1}').encode()))),
)  # fmt: skip


def doubled_member(name: str, data: bytes) -> Callable[[bytes], bytes]:
    def change(zipped: bytes) -> bytes:
        out = io.BytesIO(zipped)
        with warnings.catch_warnings(), zipfile.ZipFile(out, "a") as z:
            warnings.simplefilter("ignore")
            z.writestr(name, data)
        return out.getvalue()

    return change


def with_comment(zipped: bytes) -> bytes:
    out = io.BytesIO(zipped)
    with zipfile.ZipFile(out, "a") as z:
        z.comment = b"approved"
    return out.getvalue()


def at_last_header(offset: int) -> Callable[[bytes], bytes]:
    """Flip a bit of the last record of the zip's directory (PKZIP APPNOTE 4.3.12)."""

    def change(zipped: bytes) -> bytes:
        data = bytearray(zipped)
        data[zipped.rindex(b"PK\x01\x02") + offset] ^= 1
        return bytes(data)

    return change


def stored(zipped: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(zipped)) as old, zipfile.ZipFile(out, "w") as new:
        for n in old.namelist():
            new.writestr(n, old.read(n))
    return out.getvalue()


def with_note(zipped: bytes) -> bytes:
    """Give the last member a comment of its own (PKZIP APPNOTE 4.4.26)."""
    out = io.BytesIO(zipped)
    with zipfile.ZipFile(out, "a") as z:
        z.infolist()[-1].comment = b"approved"
        z.comment = b""
    return out.getvalue()


ZIP = (
    Tampering(name="a doubled page", zipped=doubled_member(PAGE, b"<p>All is well</p>")),
    Tampering(name="a doubled member of the same bytes", zipped=doubled_member(LIVES, b"")),
    Tampering(name="a doubled list", zipped=doubled_member("bundle.json", b"{}")),
    Tampering(name="a folder in the zip", zipped=doubled_member("approved/", b"")),
    Tampering(name="a comment in the zip", zipped=with_comment),
    Tampering(name="bytes before the zip", zipped=lambda data: b"#!/bin/sh\n" + data),
    Tampering(name="bytes after the zip", zipped=lambda data: data + b"\0" * 40),
    Tampering(name="a time in the zip", zipped=at_last_header(12)),
    Tampering(name="rights in the zip", zipped=at_last_header(40)),
    Tampering(name="a digest of the zip", zipped=at_last_header(16)),
    Tampering(name="a kind of machine in the zip", zipped=at_last_header(5)),
    Tampering(name="a note at a member", zipped=with_note),
    Tampering(name="members not packed", zipped=stored),
)  # fmt: skip


def versions_of(b: Bundle, **versions: str) -> None:
    """Claim versions in the list and in the results, as a bundle made with them would."""
    b.listed["environment"].update(versions)
    for name, v in versions.items():
        b.members[RESULTS] = re.sub(
            rf'"{name}": "[^"]*"'.encode(), f'"{name}": "{v}"'.encode(), b.members[RESULTS]
        )


def elsewhere(change: Change) -> Change:
    """A change by somebody who claims another processor, so that bytes need not be the same."""
    return both(change, claim(machine="Linux other baseline"))


CLAIMS = (
    Tampering(name="elsewhere, a word of the page", change=elsewhere(swap(PAGE, "too few", "enough"))),  # noqa: E501
    Tampering(name="elsewhere, a comment in the page", change=elsewhere(append(PAGE, b"<!-- -->"))),
    Tampering(name="elsewhere, another paper", change=elsewhere(add(PAPER, b"%PDF-1.7\n%%EOF\n"))),
    Tampering(name="elsewhere, a bit of the paper", change=elsewhere(flip(PAPER, 2000))),
    Tampering(name="elsewhere, a cell of the workbook", change=elsewhere(a_cell)),
    Tampering(name="elsewhere, pictures exchanged",
              change=elsewhere(exchange(PNG, "report/figures/risk.png"))),
    Tampering(name="elsewhere, a figure of the results", change=elsewhere(a_figure(1.1))),
    Tampering(name="elsewhere, a doubled key in the results",
              change=elsewhere(doubled(RESULTS, "provenance", "{}"))),
    Tampering(name="elsewhere, a doubled key in the document",
              change=elsewhere(doubled(DOCUMENT, "answer", "[]"))),
    Tampering(name="elsewhere, an unexpected file", change=elsewhere(add("report/x.pdf", b"x"))),
    Tampering(name="elsewhere, no paper", change=elsewhere(drop(PAPER))),
    Tampering(name="elsewhere, hours of a life", change=elsewhere(swap(LIVES, "700", "710"))),
    Tampering(name="elsewhere, the manifest as it was", change=elsewhere(both(
        lambda b: setattr(b, "manifest_too", False), swap(MANIFEST, '"report_id": "', '"report_id": "0')))),  # noqa: E501
    Tampering(name="elsewhere, a comment in the zip", change=elsewhere(lambda b: None),
              zipped=with_comment),
    Tampering(name="elsewhere, a sheet of the workbook hidden", change=elsewhere(a_sheet_hidden)),
    Tampering(name="elsewhere, an update after the paper", change=elsewhere(append(
        PAPER, b"\n1 0 obj\n<</Type/Pages/Count 0/Kids[]>>\nendobj\n%%EOF\n"))),
    Tampering(name="elsewhere, bytes after a picture", change=elsewhere(append(PNG, b"\0"))),
    Tampering(name="another packer, a comment in the zip", change=claim(zlib="1.0"),
              zipped=with_comment),
    Tampering(name="another packer, a note at a member", change=claim(zlib="1.0"),
              zipped=with_note),
    Tampering(name="another packer, members not packed", change=claim(zlib="1.0"), zipped=stored),
    Tampering(name="another typesetter, another paper",
              change=both(add(PAPER, b"%PDF-1.7\n%%EOF\n"), claim(typst="0.1.0"))),
    Tampering(name="another typesetter, pictures exchanged",
              change=both(exchange(PNG, "report/figures/risk.png"), claim(typst="0.1.0"))),
    Tampering(name="other files of the program, a word of the page", change=both(
        swap(PAGE, "too few", "enough"), claim(**{"program files": "0" * 16}))),
    Tampering(name="other files of the program, a figure of the results", change=both(
        a_figure(1.1), claim(**{"program files": "0" * 16}))),
    Tampering(name="another program, a word of the page", change=both(
        swap(PAGE, "too few", "enough"), lambda b: versions_of(b, fleetstats="0.0.9"))),
    Tampering(name="another program, a file of the report less", change=both(
        drop(PNG), lambda b: versions_of(b, fleetstats="0.0.9"))),
    Tampering(name="another program, a file of the study more", change=both(
        add("study/more.csv", b"a\n"), lambda b: versions_of(b, fleetstats="0.0.9"))),
)  # fmt: skip
