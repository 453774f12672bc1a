"""Whether a zip holds its members as we wrap them and nothing else, however they were packed.

Another compression library packs the same bytes otherwise, so that the zip cannot be made again to
the byte. All of it but the packed bytes can: each header, the directory and its end are written
anew from the members' names and sizes (PKZIP APPNOTE 4.3.7, 4.3.12 and 4.3.16).
"""

from __future__ import annotations

import io
import struct
import zipfile
import zlib

from fleetstats.report.bundle.pack import FIXED_TIME

_LOCAL = struct.Struct("<4s5H3L2H")
_ENTRY = struct.Struct("<4s6H3L5H2L")
_END = struct.Struct("<4s4H2LH")
VERSION, BY_UNIX, DEFLATED, NAMED_IN_UTF8 = 20, 3 << 8 | 20, 8, 0x800
RIGHTS = 0o100644 << 16


def wrapped_plainly(data: bytes) -> bool:
    """Return whether a zip is its members as we wrap them, none of its bytes beside.

    Parameters
    ----------
    data : bytes
        The zip, which was read before within limits.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            infos = sorted(archive.infolist(), key=lambda i: i.header_offset)
    except (zipfile.BadZipFile, ValueError):
        return False
    year, month, day, hour, minute, second = FIXED_TIME
    time = hour << 11 | minute << 5 | second // 2
    date = (year - 1980) << 9 | month << 5 | day
    out, directory = io.BytesIO(), io.BytesIO()
    for i in infos:
        name = i.filename.encode()
        flag = 0 if i.filename.isascii() else NAMED_IN_UTF8
        at = i.header_offset + _LOCAL.size + len(name)
        packed = data[at : at + i.compress_size]
        if not _holds(packed, i.file_size, i.CRC):
            return False
        shared = (flag, DEFLATED, time, date, i.CRC, i.compress_size, i.file_size)
        entry = _ENTRY.pack(b"PK\1\2", BY_UNIX, VERSION, *shared, len(name), 0, 0, 0, 0, RIGHTS,
                            out.tell())  # fmt: skip
        directory.write(entry + name)
        out.write(_LOCAL.pack(b"PK\3\4", VERSION, *shared, len(name), 0) + name + packed)
    n, start, listed = len(infos), out.tell(), directory.getvalue()
    end = _END.pack(b"PK\5\6", 0, 0, n, n, len(listed), start, 0)
    return data == out.getvalue() + listed + end


def _holds(packed: bytes, size: int, crc: int) -> bool:
    """Return whether packed bytes are one stream of that size and checksum, none left over."""
    reader = zlib.decompressobj(-zlib.MAX_WBITS)
    try:
        content = reader.decompress(packed, size + 1)
    except zlib.error:
        return False
    whole = reader.eof and not reader.unused_data
    return whole and len(content) == size and zlib.crc32(content) == crc
