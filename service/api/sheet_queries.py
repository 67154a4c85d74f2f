"""How a sheet or drawing of stored work is asked for."""

from typing import Annotated

from litestar.params import QueryParameter

from service.contract.sheet_details import Paper
from service.contract.vehicle import LengthUnit

RoundQuery = Annotated[
    str | None,
    QueryParameter(
        name="round",
        description="Label of one round to show alone, the newest so called; else the rounds "
        "`before` and `after`.",
        min_length=1,
        max_length=40,
    ),
]
PaperQuery = Annotated[
    Paper | None,
    QueryParameter(
        name="paper",
        description="Letter where lengths are in inches and A4 where they are not, unless stated.",
    ),
]
UnitQuery = Annotated[
    LengthUnit | None,
    QueryParameter(
        name="length_unit",
        description="Unit of the lengths that are written; else that of what is stored.",
    ),
]
WidthQuery = Annotated[
    int, QueryParameter(description="Width of a PNG in pixels.", ge=200, le=3000)
]
