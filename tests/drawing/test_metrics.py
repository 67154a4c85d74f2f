"""Widths that texts are given on a drawing: never less than a font takes."""

from hashlib import sha256

import pytest
from drawing.fonts import FOLDER, advances
from hypothesis import given
from hypothesis import strategies as st

from service.drawing.metrics import width_of, wrapped

LINES = st.text(max_size=80)


@pytest.mark.parametrize(
    ("font", "bold"), [("DejaVuSansCondensed.ttf", False), ("DejaVuSansCondensed-Bold.ttf", True)]
)
def test_no_latin_character_of_the_font_that_ships_is_wider_than_its_width(
    font: str, bold: bool
) -> None:
    widths = advances(font)
    latin = [chr(code) for code in (*range(0x20, 0x7F), *range(0xA0, 0x180), 0x2013, 0x2026)]
    assert len([char for char in latin if char in widths]) > 200
    narrow = {c: (widths[c], width_of(c, 1.0, bold)) for c in latin
              if c in widths and width_of(c, 1.0, bold) < widths[c]}  # fmt: skip
    assert narrow == {}


def test_the_advances_are_read_rightly() -> None:
    """Another reader (fontTools) gives, of 2048 units an em, a digit 1172 and a space 585."""
    widths = advances("DejaVuSansCondensed.ttf")
    assert (widths["0"] * 2048, widths[" "] * 2048) == (1172, 585)


@given(LINES, st.floats(20.0, 400.0), st.booleans())
def test_a_wrapped_line_fits_its_width_or_is_one_character(
    text: str, width: float, bold: bool
) -> None:
    for line in wrapped(text, width, 12.0, bold):
        assert width_of(line, 12.0, bold) <= width or len(line) == 1


@given(LINES, st.floats(20.0, 400.0))
def test_wrapping_loses_nothing_but_spaces(text: str, width: float) -> None:
    assert "".join("".join(wrapped(text, width, 12.0)).split()) == "".join(text.split())


@given(LINES, st.floats(30.0, 200.0), st.integers(1, 3))
def test_no_more_lines_are_made_than_are_allowed(text: str, width: float, most: int) -> None:
    lines = wrapped(text, width, 12.0, False, most)
    assert len(lines) <= most
    if len(wrapped(text, width, 12.0)) > most:
        assert lines[-1].endswith("…")
        assert width_of(lines[-1], 12.0) <= width


@pytest.mark.parametrize(
    ("name", "digest"),
    [
        (
            "DejaVuSansCondensed.ttf",
            "8550cd5ca1acb65a8fc7877c46939cd0b4d909f8e7bc1e24716873d918c5e549",
        ),
        (
            "DejaVuSansCondensed-Bold.ttf",
            "38098d0b8edd8430a0f53fb2831b5d36037563a998a620d3c87a4d7591766d20",
        ),
    ],
)
def test_the_fonts_are_those_of_dejavu_2_37_as_released(name: str, digest: str) -> None:
    assert sha256((FOLDER / name).read_bytes()).hexdigest() == digest
