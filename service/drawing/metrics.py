"""How wide a text may be in a font that we do not choose.

An SVG is drawn with whatever sans-serif the reader has. Widths here are the largest that a
character has in Arial and its metric twin Liberation Sans, Noto Sans, Roboto and DejaVu Sans
Condensed, rounded up to 0.02 em, so that what fits by this table fits in any of them.
"""

import unicodedata
from functools import lru_cache

FAMILIES = "Arial, 'Liberation Sans', 'Noto Sans', Roboto, 'DejaVu Sans', sans-serif"
ASCENT = 0.96
DESCENT = 0.26
"""Height of a line above and below its baseline in em: the larger of the same fonts."""

LINE = 1.25
"""Distance of two baselines in em."""

_BY_WIDTHS = {
    (24, 32): "'′ijlįĵĺļ",
    (28, 34): "ìíîïĩīĭıł",
    (30, 36): " \xa0,.·‘’",
    (34, 44): ":;-I­ÌÍÎÏĨĪĬĮİſľ",
    (36, 44): "f()[]",
    (38, 48): "²³¹!¡tţŧť",
    (42, 46): "/\\rŕŗř",
    (42, 54): '"″',
    (46, 52): "`°´¸ªº",
    (48, 60): "“”",
    (50, 54): "zźżž",
    (52, 62): "sśŝşšĳ",
    (54, 62): "cçćĉċčvxyýÿŷkķ",
    (56, 62): "*J_|¦¯Ĵ?L«»ĸĹĻĽĿŁ",
    (58, 66): "ae¨àáâãäåèéêëāăąēĕėęě$0123456789¢¥{}",
    (60, 64): "£",
    (62, 66): "FTo¿ðòóôõöøōŏőŢŤŦ§ZbdghnpquñùúûüþđĝğġģĥńņňŋũūŭůűųŹŻŽ",
    (64, 72): "µßďħ",
    (66, 66): "–¶",
    (68, 74): "EPSYÈÉÊËÝÞĒĔĖĘĚŚŜŞŠŶŸVXABKÀÁÂÃÄÅĀĂĄĶ",
    (74, 80): "CRÇĆĈĊČŔŖŘDUÐÙÚÛÜĎĐŨŪŬŮŰŲ&¤",
    (76, 78): "#+<=>^~¬±×÷−HĤ",
    (76, 90): "NÑŃŅŇŊŉ",
    (80, 86): "GĜĞĠĢOQÒÓÔÕÖØŌŎŐwŵ",
    (84, 88): "ĲĦ",
    (90, 96): "¼½¾©®%æ",
    (94, 100): "Mm",
    (102, 106): "WœŴÆ—…Œ@ŀ",
}
_REGULAR = {char: regular / 100 for (regular, _), chars in _BY_WIDTHS.items() for char in chars}
_BOLD = {char: bold / 100 for (_, bold), chars in _BY_WIDTHS.items() for char in chars}
_OTHER, _WIDE = 1.12, 1.4
"""Em of a character outside the table: letters of other scripts, and ideographs and emoji."""


@lru_cache(maxsize=8192)
def width_of(text: str, size: float, bold: bool = False) -> float:
    """The most that a line of text may take at a font size, in the size's unit."""
    known = _BOLD if bold else _REGULAR
    return size * sum(known[char] if char in known else _unknown(char) for char in text)


def _unknown(char: str) -> float:
    category = unicodedata.category(char)
    if category in ("Mn", "Me", "Cf"):
        return 0.0
    wide = category == "So" or unicodedata.east_asian_width(char) in "WF"
    return _WIDE if wide else _OTHER


@lru_cache(maxsize=4096)
def wrapped(
    text: str, width: float, size: float, bold: bool = False, lines: int = 0
) -> tuple[str, ...]:
    """The text in lines that fit a width; at most `lines` of them (0: any number), then `…`."""
    done: list[str] = []
    line = ""
    for word in text.split():
        joined = f"{line} {word}" if line else word
        if width_of(joined, size, bold) <= width:
            line = joined
            continue
        if line:
            done.append(line)
        *full, line = _broken(word, width, size, bold)
        done += full
    if line:
        done.append(line)
    if lines and len(done) > lines:
        done = [*done[: lines - 1], _cut(done[lines - 1] + "…", width, size, bold)]
    return tuple(done)


def _broken(word: str, width: float, size: float, bold: bool) -> list[str]:
    """A word in pieces that fit, cut between characters where it is too long for a line."""
    pieces = [""]
    for char in word:
        if pieces[-1] and width_of(pieces[-1] + char, size, bold) > width:
            pieces.append("")
        pieces[-1] += char
    return pieces


def _cut(line: str, width: float, size: float, bold: bool) -> str:
    while len(line) > 1 and width_of(line, size, bold) > width:
        line = line[:-2] + "…"
    return line
