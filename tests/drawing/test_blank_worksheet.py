"""A sheet to be filled in by hand: what it leaves room for, and in which order. Invented."""

import io
import re

import pytest
from drawing.fleet import FLEET
from drawing.html_reading import Reader
from pypdf import PdfReader

from service.drawing.blank import MARKS, ORDER, blank_worksheet
from service.drawing.page_html import page_html
from service.drawing.page_pdf import page_pdf
from service.drawing.sheet import Blank, Details, Form
from service.locale.catalogue import LANGUAGES


def text(blank: Blank, language: str = "en") -> str:
    reader = Reader(page_html(blank_worksheet(blank, Form(language))))
    assert reader.open == []
    assert reader.wrong == []
    return " ".join(" ".join(reader.texts).split())


def readings(blank: Blank) -> list[str]:
    """Names of the readings that there is room for, in order."""
    pattern = r"(?:Sightline|Frame to tyre|Kingpin to axle end|Axle end to axle end|Spring pin to "
    pattern += r"axle|Wheel angles|Caster by turning|Caster wedges|Toe by scribe lines|Toe by "
    pattern += r"scale), axles? \d+(?: and \d+)?(?:, left|, right|, scale at axle \d+)?"
    return re.findall(pattern, text(blank))


TRACTOR = Blank(FLEET["three-axle tractor"])


def test_it_goes_from_the_checks_over_rolling_in_to_the_readings_and_ends_with_toe() -> None:
    told = text(TRACTOR)
    places = [
        told.index(part)
        for part in (
            "Ride height",
            "Roll straight forward",
            "Sightlines:",
            "Frame to tyre, axle 1",
            "Spring pin to axle, axle 1",
            "Wheel angles, axle 1, left",
            "Caster wedges, axle 1",
            "Toe, last of all",
            "Toe by scribe lines, axle 3",
            "Chock the wheels",
            "Signatures",
        )
    ]
    assert places == sorted(places)


def test_a_tractor_has_room_for_each_reading_that_it_can_give() -> None:
    assert readings(TRACTOR) == [
        "Sightline, axle 2, scale at axle 1",
        "Sightline, axle 3, scale at axle 1",
        "Frame to tyre, axle 1",
        "Frame to tyre, axle 2",
        "Frame to tyre, axle 3",
        "Spring pin to axle, axle 1",
        "Wheel angles, axle 1, left",
        "Wheel angles, axle 1, right",
        "Caster wedges, axle 1",
        "Toe by scribe lines, axle 1",
        "Toe by scribe lines, axle 2",
        "Toe by scribe lines, axle 3",
    ]


def test_a_trailer_is_spanned_from_its_kingpin_and_has_no_steer_axle() -> None:
    found = readings(Blank(FLEET["tandem trailer"]))
    assert "Kingpin to axle end, axle 1" in found
    assert "Sightline, axle 1" in found
    assert not [name for name in found if "Spring pin" in name or "Wheel angles" in name]


def test_other_kinds_of_reading_can_be_asked_for_and_stand_in_the_order_of_the_yard() -> None:
    blank = TRACTOR._replace(readings=("toe_scale", "caster_sweep", "axle_span"))
    assert readings(blank) == [
        "Axle end to axle end, axles 2 and 3",
        "Caster by turning, axle 1, left",
        "Caster by turning, axle 1, right",
        "Toe by scale, axle 1",
        "Toe by scale, axle 2",
        "Toe by scale, axle 3",
    ]


@pytest.mark.parametrize("name", FLEET)
@pytest.mark.parametrize("language", LANGUAGES)
def test_every_vehicle_has_a_sheet_in_every_language(name: str, language: str) -> None:
    told = text(Blank(FLEET[name], readings=ORDER), language)
    for axle in FLEET[name].axles:
        assert re.search(rf"(?:axle|eje|essieu) {axle.number}\b", told)


def test_a_reading_has_a_place_for_each_of_its_values_and_no_number_in_it() -> None:
    html = page_html(blank_worksheet(Blank(FLEET["two-axle truck"], readings=("wedge",)), Form()))
    row = re.search(r"<tr><th scope=\"row\">Caster wedges.*?</tr>", html)
    assert row
    assert row[0].count('<span class="fill"></span>') == len(MARKS["wedge"])


def test_what_the_shop_wrote_is_printed_and_the_rest_is_left_to_be_written() -> None:
    told = text(Blank(FLEET["two-axle truck"], Details("J-1", facts=(("vin", "INVENTED0VIN"),))))
    assert "Sheet J-1" in told
    assert "VIN INVENTED0VIN" in told
    assert "SHA-256" not in told


def test_its_drawing_shows_the_vehicle_and_says_nothing_of_what_is_yet_to_be_read() -> None:
    html = page_html(blank_worksheet(TRACTOR, Form()))
    told = " ".join(Reader(html).texts)
    assert "Axle 3, drive" in told
    assert "not read" not in told
    assert 'stroke-dasharray="4 3"' not in html


def test_the_pdf_says_the_same() -> None:
    reader = PdfReader(io.BytesIO(page_pdf(blank_worksheet(TRACTOR, Form("es", "a4", "mm")))))
    told = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert "para llenar" in told
    assert "Línea de mira, eje 2, escala en el eje 1" in told
    assert "4762.5 mm" in told
