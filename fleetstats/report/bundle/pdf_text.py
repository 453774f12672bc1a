"""The words of a PDF as our typesetter writes it, in the order in which they are read.

No general reader: tables of objects in the clear, pages with one stream each, fonts that map each
glyph to its letters (ISO 32000-1, 7.3.4, 9.4.3 and 9.10.3). Whatever is written otherwise is not
read, and that is said. Running heads and feet, marked as artifacts, are left out.
"""

from __future__ import annotations

import re
import zlib

MOST_BYTES = 64 * 2**20
"""Unpacked size of all streams that are read; a report's are some megabytes."""

_OBJECT = re.compile(rb"(?<![^\s])(\d{1,9}) 0 obj\s(.*?)endobj", re.DOTALL)
_STREAM = re.compile(rb"stream\r?\n(.*)\r?\nendstream\s*\Z", re.DOTALL)
_PAIR = re.compile(rb"<([0-9A-Fa-f]{4})> <((?:[0-9A-Fa-f]{4})+)>")
_TOKEN = re.compile(
    rb"(?P<font>/[^\s/<>\[\]()]+)\s+[\d.]+\s+Tf|(?P<open>\()|<(?P<hex>[0-9A-Fa-f]+)>"
    rb"|(?P<show>T[jJ])\b|(?P<artifact>/Artifact\b[^\n]*?)?(?P<begin>B[DM]C)\b|(?P<end>EMC)\b"
)
_ESCAPE = re.compile(rb"\\([0-7]{1,3}|\r?\n|.)", re.DOTALL)
_NAMED = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}


class UnreadError(ValueError):
    """The PDF is not written as our typesetter writes one."""


def pdf_text(data: bytes) -> str:
    """Return the words of a PDF, without blanks and hyphens, which lines broken elsewhere move.

    Raises
    ------
    UnreadError
        If it is not written as our typesetter writes one.
    """
    objects = {int(n): body for n, body in _OBJECT.findall(data)}
    pages = _pages(objects)
    left = MOST_BYTES
    fonts: dict[int, dict[int, str]] = {}
    out = []
    for page in pages:
        content, left = _stream(objects, _ref(page, b"Contents"), left)
        resources = objects.get(_ref(page, b"Resources"), b"")
        named = dict(re.findall(rb"(/[^\s/<>\[\]()]+) (\d+) 0 R", _fonts_of(resources)))
        maps = {}
        for name, number in named.items():
            n = int(number)
            if n not in fonts:
                cmap, left = _stream(objects, _ref(objects.get(n, b""), b"ToUnicode"), left)
                fonts[n] = {
                    int(a, 16): bytes.fromhex(b.decode()).decode("utf-16-be", "replace")
                    for a, b in _PAIR.findall(cmap)
                }
            maps[name] = fonts[n]
        out.append(_shown(content, maps))
    return re.sub(r"[\s\u00ad\u200b\u2010-]+", "", "".join(out))


def pdf_whole(data: bytes) -> str:
    """Return all that a PDF holds, streams unpacked, without lengths, places and its own digest.

    Every byte is accounted for: each object stands where the table of places says, once, and
    nothing lies between two of them.

    Raises
    ------
    UnreadError
        If it is not written as our typesetter writes one, or holds more.
    """
    end = re.search(rb"startxref\n(\d{1,10})\n%%EOF\Z", data)
    start = -1 if end is None else int(end[1])
    table = re.compile(rb"xref\n0 (\d{1,7})\n").match(data, max(start, 0))
    if end is None or table is None or start <= 0:
        raise UnreadError("it has no table of places")
    first, n = table.end(), int(table[1])
    lines = [data[first + 20 * i : first + 20 * i + 20] for i in range(n)]
    if not all(re.fullmatch(rb"\d{10} \d{5} [nf]\r\n", x) for x in lines):
        raise UnreadError("its table of places is another")
    at = sorted((int(x[:10]), i) for i, x in enumerate(lines) if x[17:18] == b"n")
    ends = [*(place for place, _ in at[1:]), start]
    left, out = MOST_BYTES, [data[: at[0][0] if at else start]]
    for (place, number), stop in zip(at, ends, strict=True):
        told, left = _unpacked(data[place:stop], number, left)
        out.append(told)
    trailer = data[first + 20 * n : end.start()]
    out.append(re.sub(rb"/ID\s*\[[^\]]*\]", b"", trailer))
    return b"\n".join(out).decode("latin-1")


def _unpacked(body: bytes, number: int, left: int) -> tuple[bytes, int]:
    """Return an object with its stream unpacked, and how many bytes may still be."""
    if not body.startswith(b"%d 0 obj\n" % number):
        raise UnreadError("an object is not where its table says")
    head, packed, rest = body.partition(b"stream\n")
    if not packed:
        if not re.search(rb"endobj\s*\Z", body) or body.count(b"endobj") != 1:
            raise UnreadError("an object does not end")
        return body, left
    length = re.search(rb"/Length (\d{1,9})\b", head)
    n = -1 if length is None else int(length[1])
    if n < 0 or not re.fullmatch(rb"\s*endstream\s+endobj\s*", rest[n:]):
        raise UnreadError("a stream is longer or shorter than it says")
    plain = re.sub(rb"/Length \d+", b"", head)
    if b"/FlateDecode" not in head:
        return plain + rest[:n], left
    reader = zlib.decompressobj()
    try:
        content = reader.decompress(rest[:n], left)
    except zlib.error:
        raise UnreadError("a stream cannot be unpacked") from None
    if not reader.eof or reader.unused_data:
        raise UnreadError("a stream is too long, cut off, or followed by more")
    return plain + content, max(left - len(content), 1)


def _pages(objects: dict[int, bytes]) -> list[bytes]:
    """Return the pages in order, by the one flat table of them."""
    tables = [b for b in objects.values() if re.search(rb"/Type\s*/Pages\b", b)]
    if len(tables) != 1:
        raise UnreadError("it has no flat table of pages")
    kids = re.search(rb"/Kids\s*\[([^\]]*)\]", tables[0])
    found = [] if kids is None else re.findall(rb"(\d+) 0 R", kids[1])
    pages = [objects.get(int(n), b"") for n in found]
    if not pages or not all(re.search(rb"/Type\s*/Page\b", p) for p in pages):
        raise UnreadError("its pages are not to be found")
    return pages


def _ref(body: bytes, key: bytes) -> int:
    found = re.search(rb"/" + key + rb" (\d{1,9}) 0 R", body)
    if found is None:
        raise UnreadError(f"a {key.decode()} is not to be found")
    return int(found[1])


def _fonts_of(resources: bytes) -> bytes:
    found = re.search(rb"/Font\s*<<([^<>]*)>>", resources)
    return b"" if found is None else found[1]


def _stream(objects: dict[int, bytes], number: int, left: int) -> tuple[bytes, int]:
    found = _STREAM.search(objects.get(number, b""))
    if found is None:
        raise UnreadError("a stream is not to be found")
    reader = zlib.decompressobj()
    try:
        out = reader.decompress(found[1], left)
    except zlib.error:
        raise UnreadError("a stream cannot be unpacked") from None
    if not reader.eof:
        raise UnreadError("a stream is too long or cut off")
    return out, max(left - len(out), 1)


def _shown(content: bytes, maps: dict[bytes, dict[int, str]]) -> str:
    """Return the text that a page shows, artifacts left out."""
    out: list[str] = []
    pending: list[bytes] = []
    font: dict[int, str] = {}
    marks: list[bool] = []
    at = 0
    while found := _TOKEN.search(content, at):
        at = found.end()
        if found["font"]:
            font = maps.get(found["font"], {})
        elif found["open"]:
            text, at = _literal(content, at)
            pending.append(text)
        elif found["hex"]:
            pending.append(bytes.fromhex(found["hex"].decode() + "0" * (len(found["hex"]) % 2)))
        elif found["begin"]:
            marks.append(found["artifact"] is not None)
            pending.clear()
        elif found["end"]:
            if marks:
                marks.pop()
        else:
            if not any(marks):
                out += [_letters(p, font) for p in pending]
            pending.clear()
    return "".join(out)


def _letters(glyphs: bytes, font: dict[int, str]) -> str:
    pairs = (int.from_bytes(glyphs[i : i + 2], "big") for i in range(0, len(glyphs), 2))
    return "".join(font.get(g, "\ufffd") for g in pairs)


def _literal(content: bytes, start: int) -> tuple[bytes, int]:
    """Return the bytes of a string in parentheses that opens before `start`, and where it ends."""
    depth, at = 1, start
    while depth:
        found = re.compile(rb"\\.|[()]", re.DOTALL).search(content, at)
        if found is None:
            raise UnreadError("a string does not end")
        at = found.end()
        depth += {b"(": 1, b")": -1}.get(found[0], 0)
    return _ESCAPE.sub(_escaped, content[start : at - 1]), at


def _escaped(found: re.Match[bytes]) -> bytes:
    c = found[1]
    if c[:1].isdigit():
        return bytes([int(c, 8) & 0xFF]) if c[0] < ord("8") else c
    return b"" if c.endswith(b"\n") else _NAMED.get(c, c)
