"""A drawing as pixels: its size, and that no row of it is left out or doubled. Invented."""

from itertools import pairwise

import pytest
from drawing.fleet import FLEET, drawn
from drawing.png_reading import middle_column, size

from service.drawing.canvas import Picture
from service.drawing.page_pdf import picture_png
from service.drawing.plan_view import Panel, plan_view
from service.drawing.words import words_of


def ramp(width: float, height: float) -> Picture:
    """A drawing that goes evenly from black at its top to nearly white at its end."""
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width} {height}"><defs><linearGradient id="a" x1="0" y1="0" x2="0" y2="1">'
        '<stop offset="0" stop-color="#000"/><stop offset="1" stop-color="#fafafa"/>'
        f'</linearGradient></defs><rect width="{width}" height="{height}" fill="url(#a)"/></svg>'
    )
    return Picture(svg, width, height, "", "", ())


@pytest.mark.parametrize(("width", "height"), [(150.3, 97.7), (151.0, 99.01), (875.134, 633.0)])
def test_every_row_of_a_drawing_is_there_once(width: float, height: float) -> None:
    """Over 100 rows or so each is 2 or 3 of 250 levels lighter; a lost row would jump by 5."""
    png = picture_png(ramp(width, height), 150)
    levels = middle_column(png)
    steps = [lower - upper for upper, lower in pairwise(levels)]
    step = 250 / len(levels)
    assert all(step - 1 <= one <= step + 1 for one in steps), steps


@pytest.mark.parametrize("wanted", [200, 777, 3000])
def test_a_png_has_the_width_asked_for_and_the_shape_of_the_drawing(wanted: int) -> None:
    picture = plan_view([Panel(drawn(FLEET["tandem dolly"]))], words_of("en", "in"))
    width, height = size(picture_png(picture, wanted))
    assert width == wanted
    assert height == pytest.approx(picture.height * wanted / picture.width, abs=0.51)
