"""Reads the grey of a PNG's middle column, after the PNG specification (third edition).

Eight bits a sample, colour with or without alpha, not interlaced: what the typesetter writes.
"""

import struct
import zlib


def size(png: bytes) -> tuple[int, int]:
    """Width and height of the IHDR chunk (section 11.2.1)."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    assert png[12:16] == b"IHDR"
    width, height = struct.unpack(">II", png[16:24])
    return width, height


def middle_column(png: bytes) -> list[int]:
    """The red of each pixel down the middle, top to bottom."""
    width, height = size(png)
    depth, kind, _, _, interlaced = png[24:29]
    assert (depth, interlaced) == (8, 0)
    pixel = {2: 3, 6: 4}[kind]
    data = zlib.decompress(b"".join(_chunks(png, b"IDAT")))
    stride = width * pixel
    above = bytes(stride)
    found = []
    for row in range(height):
        start = row * (stride + 1)
        above = _unfiltered(data[start], data[start + 1 : start + 1 + stride], above, pixel)
        found.append(above[width // 2 * pixel])
    return found


def _chunks(png: bytes, wanted: bytes) -> list[bytes]:
    found, at = [], 8
    while at < len(png):
        length, name = struct.unpack_from(">I4s", png, at)
        if name == wanted:
            found.append(png[at + 8 : at + 8 + length])
        at += 12 + length
    return found


def _unfiltered(method: int, line: bytes, above: bytes, pixel: int) -> bytes:
    """A scanline without its filter (section 9.2)."""
    done = bytearray(line)
    for place, value in enumerate(line):
        left = done[place - pixel] if place >= pixel else 0
        corner = above[place - pixel] if place >= pixel else 0
        up = above[place]
        predicted = (0, left, up, (left + up) // 2, _paeth(left, up, corner))[method]
        done[place] = (value + predicted) & 0xFF
    return bytes(done)


def _paeth(left: int, up: int, corner: int) -> int:
    guess = left + up - corner
    return min((left, up, corner), key=lambda one: abs(guess - one))
