"""Which quantities a set of readings can reach: the rank of the readings, found by nudging.

The vehicle is stood level and square, every unknown is nudged in turn, and the change of what the
readings say is looked at. A quantity is reached when no change of the unknowns that the readings
cannot see would move it.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from simulator.readings import Item, Reading, read, reference_axle
from simulator.vehicle import Axle, Vehicle

MEASURED, PARTLY_ASSUMED = "measured", "partly_assumed"

Key = tuple[str, int]
"""Quantity and axle number; a scrub goes by its rear axle."""

_NUDGE = 1e-6
_SMALL = 1e-6
_DIRECT = {"camber": "camber", "caster": "caster"}


@dataclass(slots=True, frozen=True)
class Reach:
    """Basis of every quantity that is reached; one that is absent must come out as null."""

    basis: dict[Key, str]

    def has(self, quantity: str, axle: int) -> bool:
        return (quantity, axle) in self.basis


def channels(vehicle: Vehicle, item: Item, reading: Reading) -> list[float]:
    """What a reading says of the pose, freed from constants that nobody knows.

    Of a pair only the difference counts, as the distance to the tape's fixed end is not known to
    the accuracy of a reading. A sightline's mean counts where both widths over tyres are stated.
    """
    kind = item["kind"]
    if kind == "toe_width":
        return [reading["rear"] - reading["front"]]
    if kind in ("toe_scale", "wheel_angle"):
        return [reading["toe"]] if "toe" in reading else []
    if kind in ("caster_sweep", "wedge"):
        return []
    said = [(reading["right"] - reading["left"]) / 2]
    if kind == "sightline" and widths_stated(vehicle, item):
        said.append((reading["right"] + reading["left"]) / 2)
    return said


def widths_stated(vehicle: Vehicle, item: Item) -> bool:
    """Whether a sightline has no free standoff: both widths are stated (a kingpin has none)."""
    reference = reference_axle(vehicle, item)
    stated = reference is None or reference.width_over_tyres is not None
    return stated and vehicle.axle(item["axle"]).width_over_tyres is not None


def unknowns(vehicle: Vehicle) -> list[tuple[str, int]]:
    """The unknowns of a vehicle's pose, by field of the axle and axle number."""
    names: list[tuple[str, int]] = []
    for axle in vehicle.axles:
        names += [("offset", axle.number), ("thrust", axle.number), ("toe", axle.number)]
        if axle.role == "steer":
            names.append(("skew", axle.number))
    return names


def _square(axle: Axle) -> Axle:
    return replace(axle, offset=0.0, thrust=0.0, toe=0.0, skew=0.0)


def _involved(vehicle: Vehicle, item: Item) -> list[Axle]:
    """The axles whose pose a reading can depend on."""
    if item["kind"] == "axle_span":
        return [vehicle.axle(item["front_axle"]), vehicle.axle(item["rear_axle"])]
    axle = vehicle.axle(item["axle"])
    reference = reference_axle(vehicle, item) if item["kind"] == "sightline" else None
    return [axle] if reference is None else [axle, reference]


def _slope(vehicle: Vehicle, item: Item, axle: Axle, name: str) -> np.ndarray:
    """Change of an item's channels with one unknown of one axle; leaves the axle as it was."""
    middle = getattr(axle, name)
    ends = []
    for step in (_NUDGE, -_NUDGE):
        setattr(axle, name, middle + step)
        ends.append(channels(vehicle, item, read(vehicle, item)))
    setattr(axle, name, middle)
    return (np.array(ends[0]) - np.array(ends[1])) / (2 * _NUDGE)


def jacobian(vehicle: Vehicle, items: list[Item]) -> np.ndarray:
    """Change of every channel (rows) with every unknown (columns), at the vehicle's pose."""
    place = {name: index for index, name in enumerate(unknowns(vehicle))}
    mine = replace(vehicle, axles=[replace(axle) for axle in vehicle.axles])
    blocks = []
    for item in items:
        block = np.zeros((len(channels(mine, item, read(mine, item))), len(place)))
        for axle in _involved(mine, item) if len(block) else ():
            for name in ("offset", "thrust", "toe", "skew"):
                if (name, axle.number) in place:
                    block[:, place[name, axle.number]] = _slope(mine, item, axle, name)
        blocks.append(block)
    return np.vstack(blocks)


def _blind(matrix: np.ndarray) -> np.ndarray:
    """Basis (columns) of the changes that the rows do not see."""
    if not len(matrix):
        return np.eye(matrix.shape[1])
    _, sizes, turned = np.linalg.svd(matrix)
    rank = int((sizes > 1e-6 * sizes[0]).sum()) if sizes[0] > 0 else 0
    return turned[rank:].T


def _combinations(vehicle: Vehicle) -> Iterable[tuple[Key, dict[tuple[str, int], float]]]:
    for name, number in unknowns(vehicle):
        yield (name, number), {(name, number): 1.0}
    for axle in vehicle.axles:
        aim, toe = ("thrust", axle.number), ("toe", axle.number)
        yield ("toe_left", axle.number), {aim: 1.0, toe: 0.5}
        yield ("toe_right", axle.number), {aim: -1.0, toe: 0.5}
    for front, rear in zip(vehicle.axles, vehicle.axles[1:], strict=False):
        if front.role != "steer" and rear.role != "steer":
            aims = {("thrust", rear.number): 1.0, ("thrust", front.number): -1.0}
            yield ("scrub", rear.number), aims


_known: dict[object, dict[Key, str]] = {}


def _pattern(vehicle: Vehicle, items: list[Item]) -> object:
    """What the rank depends on: which axles there are and what is read, not the numbers."""
    names = ("kind", "axle", "reference", "front_axle", "rear_axle", "side", "shows")
    return (
        vehicle.unit,
        tuple((axle.role, axle.width_over_tyres is None) for axle in vehicle.axles),
        tuple(tuple(item.get(name) for name in names) for item in items),
    )


def reach(vehicle: Vehicle, items: list[Item]) -> Reach:
    """Basis of every quantity that the items reach on this vehicle.

    An axle that no frame gap was read on is taken as centred. What that pulls on, however little,
    is partly assumed; what nothing else pulls on is not reached.
    """
    pattern = _pattern(vehicle, items)
    if pattern not in _known:
        _known[pattern] = _by_rank(vehicle, items) | _by_wheel(items)
    return Reach(_known[pattern])


def taped(items: list[Item]) -> set[int]:
    """Axles whose centring is read with a tape."""
    return {item["axle"] for item in items if item["kind"] == "frame_gap"}


def _by_rank(vehicle: Vehicle, items: list[Item]) -> dict[Key, str]:
    names = unknowns(vehicle)
    place = {name: index for index, name in enumerate(names)}
    square = replace(vehicle, axles=[_square(axle) for axle in vehicle.axles])
    seen = jacobian(square, items)
    centred = [place["offset", a.number] for a in vehicle.axles if a.number not in taped(items)]
    rows = np.vstack([seen, np.eye(len(names))[centred]])
    free, pull = _blind(rows), np.linalg.pinv(rows, rcond=1e-7)
    basis: dict[Key, str] = {}
    for key, parts in _combinations(vehicle):
        row = np.zeros(len(names))
        for name, factor in parts.items():
            row[place[name]] = factor
        by_readings, by_assumptions = np.split(np.abs(row @ pull), [len(seen)])
        told = np.abs(row @ free).max(initial=0.0) < _SMALL
        if told and by_readings.max(initial=0.0) > _SMALL:
            leans = by_assumptions.max(initial=0.0) > _SMALL
            basis[key] = PARTLY_ASSUMED if leans else MEASURED
    return basis


def _by_wheel(items: list[Item]) -> dict[Key, str]:
    """Camber, caster and wedge: a wheel's own reading and nothing else."""
    basis: dict[Key, str] = {}
    for item in items:
        kind = item["kind"]
        if kind == "wheel_angle":
            for name in item["shows"]:
                if name in _DIRECT:
                    basis[f"{name}_{item['side']}", item["axle"]] = MEASURED
        elif kind == "caster_sweep":
            basis[f"caster_{item['side']}", item["axle"]] = MEASURED
        elif kind == "wedge":
            basis["wedge_left", item["axle"]] = basis["wedge_right", item["axle"]] = MEASURED
    return basis
