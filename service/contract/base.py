"""The two base structs of the wire and the text types that people's readings arrive in.

Wire structs form trees, never cycles, so the garbage collector need not follow them.
"""

from typing import Annotated

import msgspec
from msgspec import Meta

from service.geometry.angle_text import ANGLE_PATTERN
from service.geometry.length_text import LENGTH_PATTERN, TAPE_PATTERN
from service.geometry.toe_text import TOE_PATTERN


class ClosedStruct(msgspec.Struct, forbid_unknown_fields=True, kw_only=True, gc=False):
    """Base of everything a client sends: an unknown field is an error, never ignored."""


class OpenStruct(msgspec.Struct, kw_only=True, gc=False):
    """Base of everything the service answers: clients ignore fields they do not know."""


LengthText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=40,
        description="A length as it was read, in text. Without a unit, the request's "
        "`length_unit` holds.",
        examples=["31 3/4", "31-3/4 in", "2' 7 3/4\"", "806.5 mm", "-1/16"],
        extra_json_schema={"pattern": LENGTH_PATTERN},
    ),
]
TapeText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=40,
        description="A length as a tape shows it: never negative. Without a unit, the request's "
        "`length_unit` holds.",
        examples=["30 1/8", "766.8 mm"],
        extra_json_schema={"pattern": TAPE_PATTERN},
    ),
]
AngleText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=40,
        description="An angle as it was read, in text: decimal degrees, or degrees and minutes.",
        examples=["0.25", "-0°15'", "3.5 deg"],
        extra_json_schema={"pattern": ANGLE_PATTERN},
    ),
]
ToeText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=40,
        description="Total toe, toe-in positive, in text: a length over a baseline, or with its "
        "mark an angle or a slope in mm/m.",
        examples=["1/16", "-1/32", "0.09°", "1.5 mm/m"],
        extra_json_schema={"pattern": TOE_PATTERN},
    ),
]
AxleNumber = Annotated[int, Meta(ge=1, le=12, description="The axle's number, counted from 1.")]
