"""Random jobs: vehicles that stand badly, adjusters of every make, targets of every quantity."""

import math
from dataclasses import replace
from typing import Any

from geometry.planning.yard import (
    BOTH,
    LATERAL,
    LEFT_END,
    LONGITUDINAL,
    RIGHT_END,
    TIE_ROD,
    WEDGE,
    Adjuster,
    Job,
    row,
)
from simulator import Item, Vehicle, aim_items, random_vehicle, reach, settled, usual_items
from simulator.fleet import Dice, chance

INCH = 0.0254


def some(dice: Dice, percent: int, low: float, high: float) -> float | None:
    """A number that is sometimes not told."""
    return dice.uniform(low, high) if chance(dice, percent) else None


def random_adjusters(dice: Dice, steered: bool) -> list[Adjuster]:
    """What an axle says of how it can be moved: now and then nothing can be."""
    if chance(dice, 8):
        return []
    turning = Adjuster(
        LONGITUDINAL,
        dice.choice((BOTH, BOTH, LEFT_END, RIGHT_END)),
        spread=some(dice, 70, 0.8, 2.0),
        increment=some(dice, 40, 0.4e-3, 3e-3),
        travel=some(dice, 30, 1e-3, 12e-3),
    )
    if not steered:
        increment, travel = some(dice, 40, 0.8e-3, 4e-3), some(dice, 30, 2e-3, 25e-3)
        return [Adjuster(LATERAL, increment=increment, travel=travel), turning]
    half_degree = math.radians(0.5)
    wedge = Adjuster(WEDGE, increment=dice.choice((half_degree, half_degree / 2, None)))
    return [turning, wedge, _tie_rod(dice)]


def _tie_rod(dice: Dice) -> Adjuster:
    if chance(dice, 40):
        return Adjuster(TIE_ROD)
    return Adjuster(
        TIE_ROD,
        increment=some(dice, 50, 0.02, 0.2),
        travel=some(dice, 30, 0.2, 3.0),
        pitch=dice.uniform(1e-3, 2.2e-3),
        arm=dice.uniform(0.15, 0.25),
        threads=dice.choice(("both_hands", "one_hand")),
    )


def random_rows(dice: Dice) -> list[dict[str, Any]]:
    """Targets of most quantities, tight and wide, some of them off zero on purpose."""
    rows = [
        row("offset", dice.uniform(4, 14)),
        row("thrust", dice.uniform(0.12, 0.4), dice.choice((0.0, 0.0, 0.05))),
        row("scrub", dice.uniform(0.08, 0.3), dice.choice((0.0, 0.0, -0.1))),
        row("kingpin_difference", dice.uniform(6, 14)),
        row("span_difference", dice.uniform(4, 9)),
        row("thrust_difference", dice.uniform(25, 90)),
        row("setback", dice.uniform(3, 8), roles=["steer"]),
        row("skew", dice.uniform(0.15, 0.3), roles=["steer"]),
        row("toe", dice.uniform(0.08, 0.2), 0.09, roles=["steer"]),
        row("toe_length", dice.uniform(1.5, 3), 1.5, baseline="1000 mm", roles=["steer"]),
        row("caster_left", dice.uniform(0.6, 2.5), 3.5),
        row("caster_right", dice.uniform(0.6, 2.5), 4.0),
        row("cross_caster", dice.uniform(0.4, 0.8), 0.5),
        row("wedge_difference", dice.uniform(0.35, 1.0)),
    ]
    rows = [r for r in rows if chance(dice, 75)]
    return rows or [row("offset", 5.0)]


def _wheels(vehicle: Vehicle) -> list[Item]:
    items: list[Item] = []
    for axle in vehicle.axles:
        if axle.role == "steer":
            for side in ("left", "right"):
                shows = ("camber", "caster")
                items.append(
                    {"kind": "wheel_angle", "axle": axle.number, "side": side, "shows": shows}
                )
            items.append({"kind": "wedge", "axle": axle.number})
    return items


def random_job(dice: Dice, unit: str | None = None) -> Job:
    """A job whose readings tell whatever its targets ask."""
    vehicle = random_vehicle(dice, unit)
    items = aim_items(dice, vehicle) if chance(dice, 40) else usual_items(dice, vehicle)
    if chance(dice, 60):
        items += _wheels(vehicle)
    if not any("toe" in item["kind"] for item in items):
        items += [{"kind": "toe_scale", "axle": a.number, "baseline": 1.0} for a in vehicle.axles]
    vehicle = settled(vehicle, items, reach(vehicle, items))
    adjusters = {
        axle.number: random_adjusters(dice, axle.role == "steer")
        for axle in vehicle.axles
        if chance(dice, 65)
    }
    return Job(
        vehicle,
        items,
        random_rows(dice),
        adjusters,
        rule=dice.choice(("guarded", "guarded", "simple")),
        unit=dice.choice(("mm", "in", "cm")),
    )


def stood_square(job: Job) -> Job:
    """The job on a vehicle on which nothing is out."""
    axles = [
        replace(a, offset=0.0, thrust=0.0, toe=math.radians(0.09), skew=0.0)
        for a in job.vehicle.axles
    ]
    return job.stood(replace(job.vehicle, axles=axles))
