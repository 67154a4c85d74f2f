"""Tyre sizes on the wire: nominal dimensions and how far to trust them."""

from enum import StrEnum

from service.contract.base import OpenStruct


class TyreSizeBasis(StrEnum):
    """`formula`: by the size's own numbers; `catalogue`: by a table, as the size has no ratio."""

    FORMULA = "formula"
    CATALOGUE = "catalogue"


class CatalogueDiameter(OpenStruct):
    """Range of the diameters that makers' catalogues print for a size, in inches, from memory."""

    lowest_in: float
    highest_in: float


class TyreSizeItem(OpenStruct):
    """Nominal dimensions of an unloaded tyre of one size."""

    size: str
    diameter_mm: float
    diameter_in: float
    section_width_mm: float
    section_width_in: float
    rim_diameter_in: float
    aspect_ratio: float | None
    """Section height in percent of the section width; null where the size states none."""
    basis: TyreSizeBasis
    source: str
    catalogue: CatalogueDiameter | None


class TyreSizeList(OpenStruct):
    """Tyre sizes, and the warning that goes with every use of them."""

    items: list[TyreSizeItem]
    warning: str
