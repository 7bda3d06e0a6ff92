"""Photographs as they come from a telephone: checked from end to end, and freed of what they tell beside the picture.

Place, time, owner, thumbnails and whatever follows the picture are left out; how it is turned is kept. The picture's
own data is not touched, so nothing is lost of it.

Sources
-------
[1] ITU-T T.81 (JPEG), annex B: markers and segments.
[2] CIPA DC-008 (Exif 2.32), 4.6.4: the tag Orientation (274), one of 1 to 8.
[3] W3C, Portable Network Graphics (PNG), 3rd edition, 5: chunks and their CRC.
"""

import re
import struct
import zlib
from dataclasses import dataclass
from typing import Final

from graph.errors import BadFile

LARGEST: Final = 10 * 2**20
"""Bytes of a photo; a telephone's is rarely over six megabytes."""
LONGEST: Final = 12_000
"""Pixels of a side."""

_FIX: Final = "send a whole JPEG or PNG photo"
_FRAMES: Final = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}  # start of frame, all processes [1, table B.1]
_MARK: Final = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")  # what ends coded data [1, B.1.1.2]
_PNG: Final = b"\x89PNG\r\n\x1a\n"
_KEPT_CHUNKS: Final = frozenset(
    {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"sBIT", b"pHYs"}
)


@dataclass(frozen=True, slots=True)
class Photograph:
    """A photo that may be kept. Sizes in pixels, before it is turned."""

    data: bytes
    media: str
    suffix: str
    wide: int
    high: int


def photograph(data: bytes) -> Photograph:
    """The photo that these bytes are, without what it tells beside the picture.

    Raises
    ------
    BadFile
        It is no JPEG or PNG, is not whole, or is too large.
    """
    if len(data) > LARGEST:
        raise BadFile(f"the photo has {len(data)} bytes, more than {LARGEST}", fix="send a smaller one")
    try:
        if data.startswith(b"\xff\xd8"):
            made = _jpeg(data)
        elif data.startswith(_PNG):
            made = _png(data)
        else:
            raise BadFile("this is neither a JPEG nor a PNG", fix=_FIX)
    except (IndexError, struct.error) as error:
        raise BadFile("the photo is not whole", fix=_FIX) from error
    if not (0 < made.wide <= LONGEST and 0 < made.high <= LONGEST):
        raise BadFile(
            f"the photo is {made.wide} by {made.high} pixels; a side has 1 to {LONGEST}", fix="send a smaller one"
        )
    return made


def _jpeg(data: bytes) -> Photograph:
    out = bytearray(b"\xff\xd8")
    turned, size, scans = 1, (0, 0), 0
    at = 2
    while True:
        if data[at] != 0xFF:
            raise BadFile(f"the JPEG has no marker at byte {at}", fix=_FIX)
        while data[at + 1] == 0xFF:  # fill bytes [1, B.1.1.2]
            at += 1
        mark = data[at + 1]
        if mark == 0xD9:
            break
        (long,) = struct.unpack_from(">H", data, at + 2)
        segment = data[at : at + 2 + long]
        if long < 2 or len(segment) < 2 + long:
            raise BadFile("the JPEG is not whole", fix=_FIX)
        body = segment[4:]
        if mark == 0xE1 and body.startswith(b"Exif\0\0"):
            turned = _orientation(body[6:]) or turned
        if mark in _FRAMES:
            size = struct.unpack_from(">HH", body, 1)
        if not 0xE0 <= mark <= 0xEF and mark != 0xFE:
            out += segment
        elif (mark == 0xEE and body.startswith(b"Adobe")) or (mark == 0xE2 and body.startswith(b"ICC_PROFILE\0")):
            out += segment  # how its colours are meant
        at += 2 + long
        if mark == 0xDA:
            scans += 1
            end = _MARK.search(data, at)
            if end is None:
                raise BadFile("the JPEG is not whole", fix=_FIX)
            out += data[at : end.start()]
            at = end.start()
    if not scans or not size[0]:
        raise BadFile("the JPEG holds no picture", fix=_FIX)
    if turned != 1:
        out[2:2] = _turned(turned)
    return Photograph(bytes(out) + b"\xff\xd9", "image/jpeg", ".jpg", size[1], size[0])


def _orientation(exif: bytes) -> int:
    """How the picture is turned, 1 to 8 [2]; 0: not said."""
    order = {b"II": "<", b"MM": ">"}.get(exif[:2], "")
    if not order:
        return 0
    try:
        (first,) = struct.unpack_from(order + "I", exif, 4)
        (count,) = struct.unpack_from(order + "H", exif, first)
        for entry in range(count):
            tag, kind, _n, value = struct.unpack_from(order + "HHIH", exif, first + 2 + 12 * entry)
            if tag == 274 and kind == 3 and 1 <= value <= 8:
                return int(value)
    except struct.error:
        return 0
    return 0


def _turned(how: int) -> bytes:
    """An Exif segment that says how the picture is turned, and nothing else."""
    tiff = b"MM\0*" + struct.pack(">IHHHIHHI", 8, 1, 274, 3, 1, how, 0, 0)
    body = b"Exif\0\0" + tiff
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body


def _png(data: bytes) -> Photograph:
    out = bytearray(_PNG)
    at, size, pictured = len(_PNG), (0, 0), False
    while True:
        long, kind = struct.unpack_from(">I4s", data, at)
        chunk = data[at : at + 12 + long]
        if len(chunk) < 12 + long or struct.unpack_from(">I", chunk, 8 + long)[0] != zlib.crc32(chunk[4 : 8 + long]):
            raise BadFile("the PNG is not whole", fix=_FIX)
        if (kind == b"IHDR") != (at == len(_PNG)):
            raise BadFile("the PNG does not begin with its header", fix=_FIX)
        if kind == b"IHDR":
            size = struct.unpack_from(">II", chunk, 8)
        pictured |= kind == b"IDAT"
        if kind in _KEPT_CHUNKS:
            out += chunk
        at += 12 + long
        if kind == b"IEND":
            break
    if not pictured:
        raise BadFile("the PNG holds no picture", fix=_FIX)
    return Photograph(bytes(out), "image/png", ".png", size[0], size[1])
