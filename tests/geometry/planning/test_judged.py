"""Which findings bound which value is kept with a pattern, and not for ever more targets."""

from itertools import combinations

from service.geometry.findings import Finding
from service.geometry.planning.judged import KEPT, judged_of
from service.geometry.planning.rows import AIM, CENTRE, SET_TOE, SQUARE
from service.geometry.readings import FrameGap, SetbackSpan, Sightline, WheelAngle
from service.geometry.solve import solve
from service.geometry.targets import Target
from service.geometry.vehicle import Axle, Vehicle

TRUCK = Vehicle("truck", (Axle(1, "steer", 0.0), Axle(2, "drive", 5.0)))
SOLVED = solve(
    TRUCK,
    [
        Sightline(2, 0.09, 0.1, 5e-4, 1e-4, 1),
        FrameGap(1, 0.6, 0.6, 5e-4),
        FrameGap(2, 0.8, 0.81, 5e-4),
        SetbackSpan(1, 0.6, 0.602, 0.85, 5e-4),
        WheelAngle(2, "left", "toe", 0.001, 1e-4),
    ],
)
NAMES = [(quantity.name, quantity.axle) for quantity in SOLVED.pattern.quantities]


def finding(quantity: int) -> Finding:
    return Finding(quantity, Target("offset", "length", 0.0), 0.0, "nonconforming")


def mending(name: str, axle: int) -> list[tuple[str, int]]:
    """What mends a quantity of an axle."""
    place = NAMES.index((name, axle))
    return judged_of(SOLVED.pattern, [finding(place)]).mending[0]


def test_a_quantity_is_mended_by_the_actions_that_bear_on_it() -> None:
    assert mending("offset", 1) == [(CENTRE, 1)]
    assert mending("skew", 1) == [(SQUARE, 1)]
    assert mending("thrust", 2) == [(AIM, 2)]
    assert mending("toe_left", 2) == [(AIM, 2), (SET_TOE, 2)]


def test_what_is_judged_alike_is_worked_out_once() -> None:
    first = judged_of(SOLVED.pattern, [finding(0), finding(1)])
    assert judged_of(SOLVED.pattern, [finding(0), finding(1)]) is first


def test_targets_of_ever_other_quantities_are_not_all_kept() -> None:
    for choice in combinations(range(len(NAMES)), 2):
        judged_of(SOLVED.pattern, [finding(place) for place in choice])
    assert len(SOLVED.pattern.kept["judged"]) == KEPT
