"""Whether a face made with other versions says the same as the one made here, by its kind.

What is judged whole is text that stands as it is, paper object by object, a workbook part by part,
and a picture point by point. Where the drawing itself is another's, the words are read out of paper
and workbook and held against each other: they can be found to differ, but that they agree says
nothing of how it looks.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from xml.etree import ElementTree

from fleetstats.report.bundle.pdf_text import UnreadError, pdf_text, pdf_whole

SAME = "same"
"""The same but for numbers within the tolerance; all of the file was judged."""
LAST_DIGIT = "numbers differ by one in their last printed digit, rounded otherwise or changed"
WORDS_ONLY = "its words agree and its drawing is another"
LOOKS_ALIKE = "it looks alike and its points are others"
UNREAD = "it is not written as the typesetter here writes it"
OTHER_SIZE = "its sides are longer or shorter by a point or two"
UNLIKE = "unlike"

_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+(?:[eE][-+]?\d+)?|[eE][-+]?\d+)(?![\w.])")
"""Numbers with a fraction; whole ones are counts, dates or digests, in which no digit may move."""
_PRINTED = re.compile(r"(?<![\w.,-])-?(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?(?![\w-])(?!\.\d)")
"""Numbers as they are printed; those of one or two digits are counts, and none may move."""
NEAR_LEVELS = 3
"""Levels of 255 by which a point of a picture may differ: what the last digit of a place moves;
common practice, no source."""
BLOCK, ALIKE_LEVELS = 16, 24
"""Side of a block of points and levels by which its mean may differ where another library drew the
same picture: softer edges, not other lines; common practice, no source."""
MOST_POINTS = 40_000_000
MOST_PART_BYTES = 64 * 2**20


def likeness(
    name: str,
    before: bytes,
    now: bytes,
    *,
    tolerance: float,
    digests: tuple[str, str] | None = None,
) -> str:
    """Return `SAME`, `UNLIKE`, or a sentence on why a face could not be judged whole.

    Parameters
    ----------
    name : str
        The face; its ending tells its kind.
    before, now : bytes
        As bundled, and as made here.
    tolerance : float
        Relative difference up to which numbers agree.
    digests : tuple of str, optional
        What a face made here prints for the digest of its figures, and what the bundle's must.
    """
    here, there = digests or ("", "")
    if name.endswith(".pdf"):
        return _paper(before, now, tolerance, here, there)
    if name.endswith(".xlsx"):
        return _book(before, now, tolerance)
    if name.endswith(".png"):
        return _picture(before, now)
    try:
        made = now.decode("utf-8").replace(here, there) if here else now.decode("utf-8")
        return text_likeness(before.decode("utf-8"), made, tolerance=tolerance)
    except UnicodeDecodeError:
        return UNLIKE


def text_likeness(before: str, now: str, *, tolerance: float) -> str:
    """Compare two texts: `SAME`, `LAST_DIGIT` or `UNLIKE`."""
    if before == now or same_text(before, now, tolerance=tolerance):
        return SAME
    if _PRINTED.split(before) != _PRINTED.split(now):
        return UNLIKE
    pairs = zip(_PRINTED.findall(before), _PRINTED.findall(now), strict=True)
    return LAST_DIGIT if all(_rounded_apart(a, b, tolerance) for a, b in pairs) else UNLIKE


def same_text(before: str, now: str, *, tolerance: float) -> bool:
    """Return whether two texts are the same but for numbers that differ within the tolerance."""
    if _NUMBER.split(before) != _NUMBER.split(now):
        return False
    pairs = zip(_NUMBER.findall(before), _NUMBER.findall(now), strict=True)
    return all(a == b or _near(float(a), float(b), tolerance) for a, b in pairs)


def _near(a: float, b: float, tolerance: float) -> bool:
    return abs(a - b) <= tolerance * max(abs(a), abs(b))


def _rounded_apart(a: str, b: str, tolerance: float) -> bool:
    """Return whether two printed numbers differ by one in their last digit at most."""
    if a == b:
        return True
    x, y = float(a.replace(",", "")), float(b.replace(",", ""))
    if _near(x, y, tolerance):
        return True
    digits = min(len(re.sub(r"\D", "", s)) for s in (a, b))
    places = {len(s.partition(".")[2]) for s in (a, b)}
    if len(places) > 1 or (digits < 3 and places == {0}):  # a count of one or two digits
        return False
    return abs(x - y) <= 1.01 * 10.0 ** -places.pop()


def _paper(before: bytes, now: bytes, tolerance: float, here: str, there: str) -> str:
    """Compare paper object by object, and where these differ by the words that it shows."""
    try:
        if same_text(pdf_whole(before), pdf_whole(now), tolerance=tolerance):
            return SAME
    except UnreadError:
        pass  # its words may still be read
    try:
        old, new = pdf_text(before), pdf_text(now)
    except UnreadError:
        return UNREAD
    if here:
        new = new.replace(here, there)
    found = text_likeness(old, new, tolerance=tolerance)
    if found == UNLIKE:  # other pages have other numbers in the contents
        drop = re.compile(r"\d+")
        return LAST_DIGIT if drop.sub("", old) == drop.sub("", new) and _close(old, new) else UNLIKE
    return WORDS_ONLY if found == SAME else found


def _close(old: str, new: str) -> bool:
    """Return whether runs of digits differ by one at most: numbers of pages and last digits."""
    a, b = re.findall(r"\d+", old), re.findall(r"\d+", new)
    return len(a) == len(b) and all(abs(int(x) - int(y)) <= 1 for x, y in zip(a, b, strict=True))


def _book(before: bytes, now: bytes, tolerance: float) -> str:
    """Compare two workbooks part by part, and where these differ by what their cells hold."""
    try:
        old, new = _parts(before), _parts(now)
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, OSError, NotImplementedError):
        return UNLIKE
    if old is None or new is None or list(old) != list(new):
        return UNLIKE
    found = {text_likeness(old[k], new[k], tolerance=tolerance) for k in new}
    if found <= {SAME, LAST_DIGIT}:
        return LAST_DIGIT if LAST_DIGIT in found else SAME
    try:
        cells = ["\n".join(_cells(x)) for x in (old, new)]
    except (ElementTree.ParseError, KeyError, ValueError, IndexError):
        return UNLIKE
    told = text_likeness(cells[0], cells[1], tolerance=tolerance)
    return WORDS_ONLY if told == SAME else told


def _parts(data: bytes) -> dict[str, str] | None:
    """Return the parts of a workbook as text; None where its zip holds more than them."""
    out: dict[str, str] = {}
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        infos = book.infolist()
        size = sum(i.file_size for i in infos)
        if size > MOST_PART_BYTES or book.comment or not spans_all(book, len(data)):
            return None
        for i in sorted(infos, key=lambda i: i.filename):
            if i.filename in out:
                return None
            with book.open(i) as f:
                out[i.filename] = f.read(i.file_size + 1).decode("utf-8")
    return out


def spans_all(archive: zipfile.ZipFile, size: int) -> bool:
    """Return whether a zip is its members and their directory one after the other, nothing else.

    By the sizes of its records (PKZIP APPNOTE 4.3.7, 4.3.12 and 4.3.16).
    """
    at = directory = 0
    for i in sorted(archive.infolist(), key=lambda i: i.header_offset):
        name = len(i.filename.encode())
        if i.header_offset != at or i.extra or i.comment or i.flag_bits & 0x8:
            return False
        at += 30 + name + i.compress_size
        directory += 46 + name
    return archive.start_dir == at and size == at + directory + 22


def _cells(parts: dict[str, str]) -> Iterator[str]:
    """Yield what a workbook says: sheets with their state, rows and columns that are hidden, cells.

    Markup that declares entities is refused: none of ours does.
    """
    if any("<!" in text for text in parts.values()):
        raise ValueError("it declares what no workbook of ours declares")
    strings = [
        "".join(t.text or "" for t in item.iter() if _tag(t) == "t")
        for item in ElementTree.fromstring(parts.get("xl/sharedStrings.xml", "<sst/>"))
    ]
    for name, text in parts.items():
        if name.startswith("docProps/") or "/styles" in name or "/theme/" in name:
            continue
        yield name
        for e in ElementTree.fromstring(text).iter():
            tag, hidden = _tag(e), e.get("hidden", "")
            if tag in ("sheet", "definedName", "Relationship", "Override"):
                yield f"{tag} {sorted(e.attrib.items())} {e.text or ''}"
            elif hidden not in ("", "0", "false"):
                yield f"{tag} hidden {sorted(e.attrib.items())}"
            elif tag == "c":
                held = [(_tag(x), "".join(x.itertext())) for x in e]
                if e.get("t") == "s":
                    held = [(k, strings[int(v)] if k == "v" else v) for k, v in held]
                yield f"{e.get('r')} {e.get('t', '')} {held}"
            elif tag in ("hyperlink", "oddHeader", "oddFooter", "formula"):
                yield f"{tag} {sorted(e.attrib.items())} {e.text or ''}"


def _tag(e: ElementTree.Element) -> str:
    return e.tag.rpartition("}")[2]


def _picture(before: bytes, now: bytes) -> str:
    import numpy as np
    from PIL import Image

    try:
        (_, head), *rest = _chunks(before)
        (_, new_head), *new_rest = _chunks(now)
        sides = [struct.unpack(">II", h[:8]) for h in (head, new_head)]
        if rest != new_rest or head[8:] != new_head[8:]:
            return UNLIKE
        if sides[0] != sides[1]:
            near = all(abs(a - b) <= 2 for a, b in zip(*sides, strict=True))
            return OTHER_SIZE if near else UNLIKE
        if sides[0][0] * sides[0][1] > MOST_POINTS:
            return UNLIKE
        images = []
        for data in (before, now):
            with Image.open(io.BytesIO(data), formats=["PNG"]) as image:
                images.append(np.asarray(image.convert("RGBA"), dtype=np.int16))
    except (ValueError, OSError, SyntaxError, struct.error, zlib.error):
        return UNLIKE
    apart = np.abs(images[0] - images[1])
    if int(apart.max(initial=0)) <= NEAR_LEVELS:
        return SAME
    h, w = (n // BLOCK * BLOCK for n in apart.shape[:2])
    mean = [
        x[:h, :w].reshape(h // BLOCK, BLOCK, w // BLOCK, BLOCK, 4).mean(axis=(1, 3)) for x in images
    ]
    return LOOKS_ALIKE if np.abs(mean[0] - mean[1]).max(initial=0.0) <= ALIKE_LEVELS else UNLIKE


def _chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """Return the chunks of a PNG but its points (PNG, third edition, 5.3), in their order.

    Raises
    ------
    ValueError
        If bytes stand before the first or after the last.
    """
    if data[:8] != b"\x89PNG\r\n\x1a\n":
        raise ValueError("no PNG")
    at, out = 8, []
    while at < len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        if len(body) < length or len(data) < at + 12 + length:
            raise ValueError("cut off")
        if kind != b"IDAT":
            out.append((kind, body))
        at += 12 + length
        if kind == b"IEND":
            break
    if at != len(data) or not out or out[-1][0] != b"IEND":
        raise ValueError("bytes after its end")
    return out
