"""The advance widths of a TrueType font, by the tables `cmap`, `hhea`, `hmtx` and `head`.

Read after the OpenType specification 1.9, chapters of the same names; format 4 of `cmap` only.
"""

import struct
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2] / "service" / "drawing" / "fonts"


def advances(name: str) -> dict[str, float]:
    """Advance of every character of the Basic Multilingual Plane that a font has, in em."""
    data = (FOLDER / name).read_bytes()
    (count,) = struct.unpack_from(">H", data, 4)
    records = [struct.unpack_from(">4sIII", data, 12 + 16 * i) for i in range(count)]
    at = {tag.decode(): offset for tag, _, offset, _ in records}
    (per_em,) = struct.unpack_from(">H", data, at["head"] + 18)
    (long_count,) = struct.unpack_from(">H", data, at["hhea"] + 34)
    found = {}
    for char, glyph in _glyphs(data, at["cmap"]).items():
        place = at["hmtx"] + 4 * min(glyph, long_count - 1)
        found[char] = struct.unpack_from(">H", data, place)[0] / per_em
    return found


def _glyphs(data: bytes, cmap: int) -> dict[str, int]:
    (count,) = struct.unpack_from(">H", data, cmap + 2)
    for i in range(count):
        _, _, offset = struct.unpack_from(">HHI", data, cmap + 4 + 8 * i)
        if struct.unpack_from(">H", data, cmap + offset) == (4,):
            return _format_4(data, cmap + offset)
    raise ValueError("no cmap of format 4")


def _format_4(data: bytes, start: int) -> dict[str, int]:
    (double,) = struct.unpack_from(">H", data, start + 6)
    ends, starts = start + 14, start + 16 + double
    found = {}
    for place in range(0, double, 2):
        (last,) = struct.unpack_from(">H", data, ends + place)
        (first,) = struct.unpack_from(">H", data, starts + place)
        (delta,) = struct.unpack_from(">H", data, starts + double + place)
        at = starts + 2 * double + place
        (reach,) = struct.unpack_from(">H", data, at)
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code
            if reach:
                (glyph,) = struct.unpack_from(">H", data, at + reach + 2 * (code - first))
            if glyph or not reach:
                found[chr(code)] = (glyph + delta) % 65536
    return found
