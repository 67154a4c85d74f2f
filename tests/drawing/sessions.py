"""Sessions and sheets for the tests of worksheets; vehicles, shops and people are invented."""

import math

from drawing.fleet import FLEET, INCH, drawn

from service.drawing.sheet import Details, Sheet
from service.drawing.subject import (
    Assumption,
    Caution,
    Expected,
    Mark,
    Remainder,
    Session,
    Step,
    Taken,
)

CONDITIONS = {
    "rolled_straight": True,
    "stopped_gently": False,
    "wheels_on_ground": None,
    "level_ground": True,
    "ride_height_set": True,
    "tyres_matched": True,
    "suspension_sound": True,
}

READINGS = (
    Taken("sightline", 2, (("left", "3 5/16"), ("right", "3 9/16")), 1),
    Taken("frame_gap", 3, (("left", "774.7 mm"), ("right", "30 1/2")), suspect=True),
    Taken("toe_scale", 1, (("toe", "3/32"), ("baseline", "40.2"))),
    Taken("wheel_angle", 1, (("camber", "0°15'"), ("caster", "3.5")), side="left"),
    Taken(
        "wedge",
        1,
        (
            ("left", "2.0"),
            ("left_thick_end", "rear"),
            ("right", "2.5"),
            ("right_thick_end", "front"),
        ),
    ),
)

STEPS = (
    Step("inspect", subject="stopped_gently"),
    Step("read", 2, "frame_gap"),
    Step("centre", 3, direction="left", amount=0.25 * INCH,
         expected=(Expected("frame_gap", 3, (
             Mark("left", 30 * INCH, 29.9 * INCH, 30.1 * INCH, True),
             Mark("right", 30.25 * INCH, None, None, True))),)),
    Step("aim", 3, side="left", ends="both_ends", direction="forward", amount=0.125 * INCH),
    Step("set_toe", 1, direction="out", amount=math.radians(0.2), length=False, turns=0.25),
)  # fmt: skip


def session(name: str = "three-axle tractor", size: str = "usual") -> Session:
    """A round with everything that a sheet can say of it."""
    return Session(
        drawn(FLEET[name], size),
        "in",
        READINGS,
        CONDITIONS,
        STEPS,
        (Remainder("scrub", 3, 2, math.radians(0.05)), Remainder("toe", 1, None, 0.0)),
        (Assumption(2, 0.25 * INCH),),
        (Caution("implausible-thrust", 3), Caution("work-safely"), Caution("conditions-unsaid")),
        "truck-published",
        "axlewright 9.9.9",
    )


DETAILS = Details(
    "JOB-2031",
    "Crossroads Truck Alignment",
    ("12 Yard Road", "Telephone 555 0100"),
    (("customer", "Hill Haulage"), ("unit_number", "4711"), ("complaint", "Pulls right")),
    ("Moved axle 3 by its bushings.", "Set toe."),
    "Left rear tyre near its limit.",
    "Guaranteed for 90 days.",
)


def sheet(after: bool = False, details: Details = DETAILS) -> Sheet:
    """A sheet of one round, or of two."""
    second = session(size="tiny") if after else None
    return Sheet(session(), second, details)
