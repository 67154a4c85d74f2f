"""Vehicles at random, and reading sets for them from one lonely reading to everything.

Every number is invented. One recipe serves both a seeded loop and hypothesis: it asks a `Dice`
for numbers, and does not know who throws.
"""

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from simulator.rank import Reach, reach, taped, widths_stated
from simulator.readings import Item, Reading, read_all
from simulator.vehicle import Axle, Vehicle, Wheel

T = TypeVar("T")


class Dice(Protocol):
    """Source of the numbers of a recipe."""

    def uniform(self, low: float, high: float, /) -> float: ...

    def randint(self, low: int, high: int, /) -> int: ...

    def choice(self, options: Sequence[T], /) -> T: ...


@dataclass(slots=True)
class Case:
    """A vehicle, what is read on it, the exact readings and what they ought to reach."""

    vehicle: Vehicle
    items: list[Item]
    readings: list[Reading]
    reach: Reach


def chance(dice: Dice, percent: int) -> bool:
    """True in `percent` of a hundred throws."""
    return dice.randint(1, 100) <= percent


def _rear_roles(dice: Dice) -> list[str]:
    drives = dice.randint(1, 3)
    before = dice.randint(0, 1) if drives < 3 else 0
    after = dice.randint(0, 1) if drives + before < 4 else 0
    return ["pusher"] * before + ["drive"] * drives + ["tag"] * after


def _layout(dice: Dice, unit: str) -> list[tuple[str, float]]:
    """Role and distance of every axle, front to rear."""
    if unit in ("trailer", "dolly"):
        start = dice.uniform(8.0, 13.0) if unit == "trailer" else dice.uniform(1.8, 3.5)
        roles, placed = [unit] * dice.randint(1, 4), start
        axles: list[tuple[str, float]] = []
    else:
        axles = [("steer", 0.0)]
        if chance(dice, 25):
            axles.append(("steer", dice.uniform(1.7, 2.2)))
        roles, placed = _rear_roles(dice), axles[-1][1] + dice.uniform(2.8, 6.0)
    for role in roles:
        axles.append((role, placed))
        placed += dice.uniform(1.2, 1.9)
    return axles


def _size(dice: Dice, usual: float, wildest: float, wild: bool) -> float:
    limit = wildest if wild else usual
    return dice.uniform(-limit, limit)


def random_wheel(dice: Dice) -> Wheel:
    """A wheel end whose camber, caster and wedge are of the usual size."""
    return Wheel(
        camber=dice.uniform(-0.02, 0.02),
        caster=dice.uniform(-0.02, 0.12),
        wedge=dice.uniform(-0.05, 0.07),
    )


def _random_axle(dice: Dice, number: int, role: str, distance: float, widths: bool) -> Axle:
    wild = chance(dice, 10)
    steer = role == "steer"
    return Axle(
        number=number,
        role=role,
        distance=distance,
        offset=_size(dice, 0.02, 0.12, wild),
        thrust=_size(dice, 0.008, 0.06, wild),
        toe=_size(dice, 0.006, 0.03, wild),
        skew=_size(dice, 0.006, 0.03, wild) if steer else 0.0,
        width_over_tyres=dice.uniform(2.3, 2.6) if widths else None,
        tyre_diameter=dice.uniform(0.9, 1.15),
        left=random_wheel(dice),
        right=random_wheel(dice),
    )


def random_vehicle(dice: Dice, unit: str | None = None) -> Vehicle:
    """A vehicle of any kind; one in ten axles stands far worse than any yard lets go."""
    unit = unit or dice.choice(("tractor", "truck", "trailer", "dolly"))
    widths = dice.randint(0, 2)
    axles = [
        _random_axle(dice, index, role, distance, widths == 2 or (widths == 1 and index == 1))
        for index, (role, distance) in enumerate(_layout(dice, unit), start=1)
    ]
    return Vehicle(unit=unit, axles=axles)


def _sightline(dice: Dice, vehicle: Vehicle, axle: int, reference: int | None = None) -> Item:
    item: Item = {"kind": "sightline", "axle": axle, "reference": reference}
    free = not widths_stated(vehicle, item)
    return item | {"standoff": dice.uniform(-0.05, 0.05) if free else 0.0}


def _toe_item(dice: Dice, axle: int) -> Item:
    baseline = dice.uniform(0.7, 1.2) if chance(dice, 50) else None
    return {"kind": dice.choice(("toe_width", "toe_scale")), "axle": axle, "baseline": baseline}


def _wheel_item(axle: int, side: str, shows: tuple[str, ...]) -> Item:
    return {"kind": "wheel_angle", "axle": axle, "side": side, "shows": shows}


def aim_items(dice: Dice, vehicle: Vehicle) -> list[Item]:
    """Every reading that says something of aim, centring and skew, once."""
    items: list[Item] = []
    for axle in vehicle.axles:
        number = axle.number
        items.append({"kind": "frame_gap", "axle": number})
        if vehicle.towed or number > 1:
            items.append(_sightline(dice, vehicle, number))
        if vehicle.towed:
            spread = dice.uniform(1.7, 2.0)
            items.append({"kind": "kingpin_span", "axle": number, "spread": spread})
        if number > 1 and (vehicle.towed or number > 2):
            items.append(_sightline(dice, vehicle, number, number - 1))
        if number > 1:
            pair = {"front_axle": number - 1, "rear_axle": number}
            items.append({"kind": "axle_span", "spread": dice.uniform(1.6, 2.0)} | pair)
        if axle.role == "steer":
            items.append(
                {
                    "kind": "setback_span",
                    "axle": number,
                    "spread": dice.uniform(0.8, 0.9),
                    "pin_ahead": dice.uniform(0.5, 0.7),
                }
            )
    return items


def wheel_items(dice: Dice, vehicle: Vehicle) -> list[Item]:
    """Every reading that says something of toe and of single wheels, once."""
    items: list[Item] = []
    for axle in vehicle.axles:
        number = axle.number
        items.append(_toe_item(dice, number))
        for side in ("left", "right"):
            items.append(_wheel_item(number, side, ("toe",)))
            if axle.role == "steer":
                items.append(_wheel_item(number, side, ("camber", "caster")))
                turn = dice.uniform(0.17, 0.35)
                items.append({"kind": "caster_sweep", "axle": number, "side": side, "turn": turn})
        if axle.role == "steer":
            items.append({"kind": "wedge", "axle": number})
    return items


def usual_items(dice: Dice, vehicle: Vehicle) -> list[Item]:
    """What a yard usually reads: aim and centring of every axle, toe and setback in front."""
    items: list[Item] = []
    for axle in vehicle.axles:
        number = axle.number
        items.append({"kind": "frame_gap", "axle": number})
        if vehicle.towed or number > 1:
            items.append(_sightline(dice, vehicle, number))
        if axle.role == "steer":
            items.append({"kind": "setback_span", "axle": number, "spread": 0.8509})
        items.append(_toe_item(dice, number))
    return items


def random_items(dice: Dice, vehicle: Vehicle) -> list[Item]:
    """A reading set, from one reading to all there are; never empty."""
    if chance(dice, 25):
        return usual_items(dice, vehicle)
    pool = aim_items(dice, vehicle) + wheel_items(dice, vehicle)
    percent = dice.choice((15, 40, 70, 90, 100))
    picked = [item for item in pool if chance(dice, percent)]
    return picked or [dice.choice(pool)]


def settled(vehicle: Vehicle, items: list[Item], found: Reach) -> Vehicle:
    """The vehicle with what nobody reads set to what is taken for granted: centred, no toe.

    Only then can the truth be had exactly from readings that depend, a little, on all of it.
    """
    centring = taped(items)
    return replace(
        vehicle,
        axles=[
            replace(
                axle,
                offset=axle.offset if axle.number in centring else 0.0,
                toe=axle.toe if found.has("toe", axle.number) else 0.0,
            )
            for axle in vehicle.axles
        ],
    )


def case_of(vehicle: Vehicle, items: list[Item]) -> Case:
    """The exact readings of a vehicle, settled to what they reach."""
    found = reach(vehicle, items)
    stood = settled(vehicle, items, found)
    return Case(stood, items, read_all(stood, items), found)


def random_case(dice: Dice, unit: str | None = None) -> Case:
    """A random vehicle with a random reading set."""
    vehicle = random_vehicle(dice, unit)
    return case_of(vehicle, random_items(dice, vehicle))


def usual_case(dice: Dice, unit: str | None = None) -> Case:
    """A random vehicle with the readings that a yard usually takes."""
    vehicle = random_vehicle(dice, unit)
    return case_of(vehicle, usual_items(dice, vehicle))


def stood_anew(dice: Dice, case: Case) -> Case:
    """Another vehicle with the same axles and the same reading set: new places, new poses.

    Cases of one design share what is worked out once a design, which makes thousands affordable.
    """
    stretch = dice.uniform(0.92, 1.08)
    axles = [
        _random_axle(dice, a.number, a.role, a.distance * stretch, a.width_over_tyres is not None)
        for a in case.vehicle.axles
    ]
    return case_of(replace(case.vehicle, axles=axles), case.items)


def fleet(dice: Dice, designs: int, each: int) -> Iterator[Case]:
    """Cases of random designs, some vehicles of each; a third of the designs are read as usual."""
    for index in range(designs):
        first = usual_case(dice) if index % 3 == 0 else random_case(dice)
        yield first
        for _ in range(each - 1):
            yield stood_anew(dice, first)


def seeded(seed: int) -> random.Random:
    """Dice that throw the same numbers every time."""
    return random.Random(seed)
