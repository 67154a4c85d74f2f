"""Nominal tyre dimensions by size: a default for a toe baseline, never its measured span."""

import re
from typing import NamedTuple

from service.geometry.quantity import quoted

INCH = 0.0254
MILLIMETRE = 0.001

FORMULA = "formula"
CATALOGUE = "catalogue"

FORMULA_SOURCE = "nominal: rim diameter + 2 x section width x aspect ratio / 100"
CATALOGUE_SOURCE = "middle of typical catalogue values, from memory"

MEASURE_WARNING = (
    "A toe in length holds over the span between the scribe lines as measured on the vehicle. "
    "Use a nominal diameter only until that span is measured: tyres of one size differ from make "
    "to make and with wear."
)

_METRIC = re.compile(r"([0-9]{3})/([0-9]{2,3})R([0-9]{2}(?:\.[0-9])?)")
_NUMERIC = re.compile(r"([0-9]{1,2}(?:\.[0-9]{1,2})?)R([0-9]{2}(?:\.[0-9])?)")
_LONGEST = 20

# What is still a road tyre; beyond it somebody mistyped.
_WIDTHS = (100.0, 600.0)
_ASPECTS = (25.0, 110.0)
_RIMS = (10.0, 30.0)


class TyreSizeError(ValueError):
    """A text that is no tyre size, or a size whose diameter nobody here knows.

    `reason` quotes the text and says what is wrong, `hint` how to write it right.
    """

    def __init__(self, reason: str, hint: str) -> None:
        super().__init__(f"{reason}: {hint}")
        self.reason = reason
        self.hint = hint


class TyreSize(NamedTuple):
    """Dimensions of a size in metres; `aspect_ratio` in percent of the section width.

    `basis` is "formula" for sizes that state their aspect ratio and "catalogue" for those that do
    not. `catalogue` is the range of diameters that makers' catalogues print, from memory.
    """

    size: str
    rim_diameter: float
    section_width: float
    aspect_ratio: float | None
    diameter: float
    basis: str
    source: str
    catalogue: tuple[float, float] | None = None


# Outside diameters in catalogues, inches, lowest and highest as usually met. From memory, all but
# the 40.5 in of 295/75R22.5, which a public size page prints.
_CATALOGUE_INCHES = {
    "11R22.5": (41.3, 41.5),
    "11R24.5": (43.3, 43.5),
    "295/75R22.5": (40.1, 40.5),
    "275/80R22.5": (40.1, 40.3),
    "285/75R24.5": (41.3, 41.6),
    "295/80R22.5": (41.3, 41.6),
    "315/80R22.5": (42.4, 42.9),
    "385/65R22.5": (42.2, 42.6),
    "425/65R22.5": (44.3, 44.9),
    "445/50R22.5": (39.9, 40.4),
    "455/55R22.5": (42.2, 42.5),
    "255/70R22.5": (36.6, 37.0),
    "275/70R22.5": (37.6, 38.0),
}


def tyre_size(text: str) -> TyreSize:
    """Dimensions of a size written as on the sidewall, "295/75R22.5" or "11R22.5".

    Spaces and small letters do no harm. Any metric size is computed by formula; a size without
    an aspect ratio has no diameter but the table's. Raises TyreSizeError, saying how to write it.
    """
    size = "".join(text.split()).upper()
    if len(size) <= _LONGEST:
        metric = _METRIC.fullmatch(size)
        if metric is not None:
            return _by_formula(size, *map(float, metric.groups()))
        numeric = _NUMERIC.fullmatch(size)
        if numeric is not None:
            return _by_catalogue(size, *map(float, numeric.groups()))
    raise TyreSizeError(
        f"{quoted(text)} is not a tyre size",
        "write it as on the sidewall, “295/75R22.5” or, without an aspect ratio, “11R22.5”, and "
        "leave out load index and ply rating",
    )


def _by_formula(size: str, width: float, aspect: float, rim: float) -> TyreSize:
    for name, number, (least, most) in (
        ("section width", width, _WIDTHS),
        ("aspect ratio", aspect, _ASPECTS),
        ("rim diameter", rim, _RIMS),
    ):
        if not least <= number <= most:
            raise TyreSizeError(
                f"the {name} of {quoted(size)} is not between {least:g} and {most:g}",
                "section width is in mm, aspect ratio in percent, rim diameter in inches",
            )
    return TyreSize(
        size=size,
        rim_diameter=rim * INCH,
        section_width=width * MILLIMETRE,
        aspect_ratio=aspect,
        diameter=rim * INCH + 2.0 * width * MILLIMETRE * aspect / 100.0,
        basis=FORMULA,
        source=FORMULA_SOURCE,
        catalogue=_catalogue(size),
    )


def _by_catalogue(size: str, width: float, rim: float) -> TyreSize:
    catalogue = _catalogue(size)
    if catalogue is None:
        raise TyreSizeError(
            f"{quoted(size)} is not in the table and states no aspect ratio, so that its diameter "
            "cannot be computed",
            "measure the span between the scribe lines",
        )
    return TyreSize(
        size=size,
        rim_diameter=rim * INCH,
        section_width=width * INCH,
        aspect_ratio=None,
        diameter=(catalogue[0] + catalogue[1]) / 2.0,
        basis=CATALOGUE,
        source=CATALOGUE_SOURCE,
        catalogue=catalogue,
    )


def _catalogue(size: str) -> tuple[float, float] | None:
    inches = _CATALOGUE_INCHES.get(size)
    return None if inches is None else (inches[0] * INCH, inches[1] * INCH)


def tyre_sizes() -> tuple[TyreSize, ...]:
    """The sizes usual on heavy trucks and trailers."""
    return _TABLE


_TABLE = tuple(tyre_size(size) for size in _CATALOGUE_INCHES)
