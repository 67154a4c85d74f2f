"""`POST /v1/drawings`: what is drawn."""

from typing import Annotated

from msgspec import Meta

from service.contract.base import ClosedStruct
from service.contract.solution import SolutionRequest
from service.contract.texts import ShortText
from service.contract.vehicle import LengthUnit


class DrawingRequest(ClosedStruct):
    """The readings of one round, or of the rounds before and after the work, to be drawn."""

    before: SolutionRequest
    after: SolutionRequest | None = None
    """A second round of the same vehicle, drawn beside the first and to the same scale."""
    title: ShortText | None = None
    """The shop's own words above the drawing, such as a unit number."""
    length_unit: LengthUnit | None = None
    """Unit of the lengths on the drawing; else that of `before`."""
    width: Annotated[int, Meta(ge=200, le=3000)] = 1200
    """Width of a PNG in pixels; an SVG has none."""
