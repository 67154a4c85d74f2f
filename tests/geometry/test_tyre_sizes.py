"""Nominal dimensions by tyre size."""

import pytest

from service.geometry.tyre_sizes import TyreSizeError, tyre_size, tyre_sizes

# Nominal diameters in mm and inches, worked by hand as rim + 2 x width x aspect ratio: for the
# first, 22.5 x 25.4 + 2 x 295 x 0.75 = 571.5 + 442.5 mm.
BY_HAND = [
    ("295/75R22.5", 1014.0, 39.92, 11.61),
    ("275/80R22.5", 1011.5, 39.82, 10.83),
    ("285/75R24.5", 1049.8, 41.33, 11.22),
    ("295/80R22.5", 1043.5, 41.08, 11.61),
    ("315/80R22.5", 1075.5, 42.34, 12.40),
    ("385/65R22.5", 1072.0, 42.20, 15.16),
    ("425/65R22.5", 1124.0, 44.25, 16.73),
    ("445/50R22.5", 1016.5, 40.02, 17.52),
    ("455/55R22.5", 1072.0, 42.20, 17.91),
    ("255/70R22.5", 928.5, 36.56, 10.04),
    ("275/70R22.5", 956.5, 37.66, 10.83),
]


@pytest.mark.parametrize(("size", "millimetres", "inches", "width_inches"), BY_HAND)
def test_a_metric_size_is_computed_from_its_own_numbers(
    size: str, millimetres: float, inches: float, width_inches: float
) -> None:
    tyre = tyre_size(size)
    assert tyre.basis == "formula"
    assert tyre.diameter * 1000 == pytest.approx(millimetres, abs=0.0501)
    assert tyre.diameter / 0.0254 == pytest.approx(inches, abs=0.00501)
    assert tyre.section_width / 0.0254 == pytest.approx(width_inches, abs=0.00501)


def test_the_diameter_printed_for_275_80r22_5_on_a_public_size_page_comes_out() -> None:
    # A public size page prints 1011 mm.
    assert int(tyre_size("275/80R22.5").diameter * 1000) == 1011


def test_the_width_of_425_65r22_5_is_that_of_the_michelin_manuals_example() -> None:
    # Michelin Truck Tire Service Manual, p. 41: 425/25.4 = 16.7 in.
    assert round(tyre_size("425/65R22.5").section_width / 0.0254, 1) == 16.7


def test_a_metric_size_outside_the_table_is_computed_all_the_same() -> None:
    tyre = tyre_size("225/70R19.5")
    assert tyre not in tyre_sizes()
    assert tyre.catalogue is None
    # By hand: 19.5 x 25.4 + 2 x 225 x 0.70 = 495.3 + 315 mm.
    assert tyre.diameter == pytest.approx(0.8103, abs=1e-12)


@pytest.mark.parametrize(
    ("size", "lowest", "highest"), [("11R22.5", 41.3, 41.5), ("11R24.5", 43.3, 43.5)]
)
def test_a_size_without_aspect_ratio_comes_from_the_table_and_says_so(
    size: str, lowest: float, highest: float
) -> None:
    # Catalogue values from memory.
    tyre = tyre_size(size)
    assert tyre.basis == "catalogue"
    assert tyre.aspect_ratio is None
    assert "from memory" in tyre.source
    assert lowest < tyre.diameter / 0.0254 < highest


def test_the_memory_of_11r22_5_in_un_regulation_54_fits_the_table() -> None:
    # UN R54, from memory: 1050 mm across, 279 mm wide.
    tyre = tyre_size("11R22.5")
    lowest, highest = tyre.catalogue
    assert lowest <= 1.050 <= highest
    assert tyre.section_width == pytest.approx(0.279, abs=0.0005)


def test_catalogue_diameters_lie_close_about_the_formulas() -> None:
    # Catalogue values are from memory; none is 0.2 in below its formula or 0.7 in above it.
    for tyre in tyre_sizes():
        lowest, highest = tyre.catalogue
        assert lowest < highest
        assert lowest > tyre.diameter - 0.2 * 0.0254
        assert highest < tyre.diameter + 0.7 * 0.0254


@pytest.mark.parametrize(
    "text", ["295/75R22.5", " 295/75 R 22.5 ", "295/75r22.5", "295 / 75 R22.5"]
)
def test_spaces_and_small_letters_do_no_harm(text: str) -> None:
    assert tyre_size(text).size == "295/75R22.5"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "R22.5",
        "295/75",
        "295-75R22.5",
        "295/75R22.5 144/141L",
        "295/75D22.5",
        "٢٩٥/75R22.5",
        "29575R22.5",
        "1" * 400,
    ],
)
def test_what_is_no_size_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(TyreSizeError, match=r"“295/75R22\.5” or.*“11R22\.5”") as caught:
        tyre_size(text)
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("905/75R22.5", "section width"),
        ("295/13R22.5", "aspect ratio"),
        ("295/750R22.5", "aspect ratio"),
        ("295/75R98.5", "rim diameter"),
    ],
)
def test_a_size_no_road_tyre_has_is_refused_by_its_wrong_part(text: str, part: str) -> None:
    with pytest.raises(TyreSizeError, match=part):
        tyre_size(text)


def test_a_numeric_size_nobody_here_knows_is_refused_rather_than_guessed() -> None:
    with pytest.raises(TyreSizeError, match="measure the span"):
        tyre_size("12R22.5")
