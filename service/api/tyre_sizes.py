"""`/v1/tyre-sizes`: nominal tyre dimensions, a default until the tyres are measured."""

from functools import cache
from typing import Annotated

from litestar import get
from litestar.params import QueryParameter

from service.contract.problem_catalogue import UNREADABLE_TEXT
from service.contract.problems import ProblemError, field_error
from service.contract.tyre_sizes import (
    CatalogueDiameter,
    TyreSizeBasis,
    TyreSizeItem,
    TyreSizeList,
)
from service.geometry.tyre_sizes import (
    MEASURE_WARNING,
    TyreSize,
    TyreSizeError,
    tyre_size,
    tyre_sizes,
)

INCH = 0.0254

_SIZE = QueryParameter(
    description="A size as on the sidewall. Any metric size is computed, in the table or not; "
    "without it the answer is the table.",
    max_length=40,
)


@get(
    "/v1/tyre-sizes",
    summary="Look up tyre sizes",
    opt={"problems": (UNREADABLE_TEXT,)},
    sync_to_thread=False,
)
def list_tyre_sizes(size: Annotated[str | None, _SIZE] = None) -> TyreSizeList:
    """Nominal diameter and width of the sizes usual on heavy trucks and trailers, or of one size.

    A toe conversion needs the measured span between the scribe lines; every answer says so.
    """
    if size is None:
        return _table()
    try:
        return TyreSizeList(items=[_item(tyre_size(size))], warning=MEASURE_WARNING)
    except TyreSizeError as error:
        detail, hint = f"{error.reason}.", f"{error.hint[:1].upper()}{error.hint[1:]}."
        raise ProblemError(
            UNREADABLE_TEXT,
            detail,
            [field_error(UNREADABLE_TEXT, "?size", detail, hint)],
        ) from None


@cache
def _table() -> TyreSizeList:
    return TyreSizeList(items=[_item(one) for one in tyre_sizes()], warning=MEASURE_WARNING)


def _item(tyre: TyreSize) -> TyreSizeItem:
    return TyreSizeItem(
        size=tyre.size,
        diameter_mm=_millimetres(tyre.diameter),
        diameter_in=_inches(tyre.diameter),
        section_width_mm=_millimetres(tyre.section_width),
        section_width_in=_inches(tyre.section_width),
        rim_diameter_in=_inches(tyre.rim_diameter),
        aspect_ratio=tyre.aspect_ratio,
        basis=TyreSizeBasis(tyre.basis),
        source=tyre.source,
        catalogue=None
        if tyre.catalogue is None
        else CatalogueDiameter(
            lowest_in=_inches(tyre.catalogue[0]), highest_in=_inches(tyre.catalogue[1])
        ),
    )


def _millimetres(metres: float) -> float:
    """To 0.01 mm: a nominal dimension has no more to say."""
    return round(metres * 1000.0, 2)


def _inches(metres: float) -> float:
    return round(metres / INCH, 3)
