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
    (26, 32): "'ijlįĵĺļ′",
    (28, 32): "ìíîïĩīĭı",
    (30, 36): " ,.\xa0·ł‘’",
    (34, 40): "-:;I\xadÌÍÎÏĨĪĬĮİſ",
    (36, 44): "()[]ľ",
    (36, 52): "ŀ",
    (38, 40): "f²³¹",
    (38, 44): "!t¡ţŧ",
    (42, 48): '"/\\rŕŗřť',
    (42, 56): "″",
    (46, 48): "`°´¸",
    (46, 52): "ªº",
    (50, 56): "zźżž",
    (52, 56): "sśŝşš",
    (54, 56): "cçćĉċč",
    (54, 60): "vxyýÿŷ“”",
    (56, 56): "*J_|¦¯Ĵ",
    (56, 64): "?Lk«»ĳķĸĹĻĽĿŁ",
    (58, 64): "$0123456789ae¢¥¨àáâãäåèéêëāăąēĕėęě",
    (62, 64): "FTo£§¿ðòóôõöøōŏőŢŤŦ",
    (62, 68): "Zbdghnpqu{}ñùúûüþđĝğġģĥńņňŋũūŭůűųŹŻŽ",
    (64, 72): "ßďħ",
    (68, 68): "EPSYµ¶ÈÉÊËÝÞĒĔĖĘĚŚŜŞŠŶŸ–",
    (68, 76): "ABKVXÀÁÂÃÄÅĀĂĄĶ",
    (74, 76): "CDRU¤ÇÐÙÚÛÜĆĈĊČĎĐŔŖŘŨŪŬŮŰŲ",
    (74, 92): "ŉ",
    (76, 76): "#+<=>^~¬±±×÷−",
    (76, 84): "NÑŃŅŇŊ",
    (78, 80): "&GHĜĞĠĢĤ",
    (80, 80): "OQÒÓÔÕÖØŌŎŐ",
    (84, 88): "wĦĲŵ",
    (90, 96): "%©®¼½¾æ",
    (96, 100): "MWmœŴ",
    (100, 108): "Œ",
    (102, 100): "@Æ—…",
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
