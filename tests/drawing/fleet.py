"""Vehicles to draw, all invented: every kind, 1 to 12 axles, with measures of any size."""

import math
from collections.abc import Iterator
from itertools import pairwise

from service.drawing.subject import Judgement, Measure, Round
from service.geometry.vehicle import Axle, Vehicle

INCH = 0.0254
VERDICTS = ("conforming", "nonconforming", "undetermined")


def vehicle(kind: str, roles: str, *inches: float, width: float | None = None) -> Vehicle:
    """`roles` by first letters: s steer, d drive, p pusher, t tag, r trailer, o dolly."""
    names = {"s": "steer", "d": "drive", "p": "pusher", "t": "tag", "r": "trailer", "o": "dolly"}
    return Vehicle(
        kind,
        tuple(
            Axle(number, names[role], at * INCH, width)
            for number, (role, at) in enumerate(zip(roles, inches, strict=True), 1)
        ),
    )


FLEET: dict[str, Vehicle] = {
    "two-axle tractor": vehicle("tractor", "sd", 0, 150),
    "three-axle tractor": vehicle("tractor", "sdd", 0, 187.5, 239.5),
    "tractor with pusher and tag": vehicle("tractor", "spddt", 0, 140, 190, 242, 294),
    "two-axle truck": vehicle("truck", "sd", 0, 254),
    "twin-steer truck": vehicle("truck", "ssdd", 0, 79, 230, 284),
    "twin-steer truck with two pushers": vehicle("truck", "ssppdd", 0, 75, 130, 180, 230, 284),
    "seven-axle truck": vehicle("truck", "sspppdd", 0, 70, 120, 170, 220, 272, 324),
    "single-axle trailer": vehicle("trailer", "r", 330),
    "tandem trailer": vehicle("trailer", "rr", 390, 440),
    "spread trailer": vehicle("trailer", "rr", 360, 482),
    "four-axle trailer": vehicle("trailer", "rrrr", 300, 354, 408, 462),
    "nine-axle trailer": vehicle("trailer", "r" * 9, *range(250, 700, 50)),
    "ten-axle truck": vehicle("truck", "ssddpppttt", *range(0, 600, 60)),
    "twelve-axle trailer": vehicle("trailer", "r" * 12, *range(200, 752, 46)),
    "single-axle dolly": vehicle("dolly", "o", 80),
    "tandem dolly": vehicle("dolly", "oo", 84, 134),
    "axles an inch apart": vehicle("truck", "sdddd", 0, 100, 101, 102, 103),
    "mile-long trailer": vehicle("trailer", "rr", 60_000, 63_360),
    "narrow dolly": vehicle("dolly", "o", 10, width=0.02),
}

SIZES = {
    "usual": (0.1, 1 / 8),
    "nothing": (0.0, 0.0),
    "tiny": (1e-7, 1e-9),
    "large": (2.9, 3.9),
    "absurd": (80.0, 4000.0),
}
"""Largest aim in degrees and largest offset in inches."""


def drawn(vehicle: Vehicle, size: str = "usual", told: str = "all") -> Round:
    """The vehicle with measures of a size; `told` is "all", "none" or "half" of its axles."""
    degrees, inches = SIZES[size]
    aim, offset = math.radians(degrees), inches * INCH
    swing = _swing()
    axles: dict[int, dict[str, Measure]] = {}
    for place, axle in enumerate(vehicle.axles):
        if told == "none" or (told == "half" and place % 2):
            continue
        measures = {"offset": Measure(offset * next(swing), 0.001)}
        if axle.steered:
            measures["toe"] = Measure(aim * next(swing), 0.0004)
            measures["setback"] = Measure(offset * next(swing), 0.001)
            measures["skew"] = Measure(aim * next(swing), 0.0009)
        else:
            measures["thrust"] = Measure(aim * next(swing), 0.0005)
        axles[axle.number] = measures
    straight = [axle.number for axle in vehicle.axles if not axle.steered and axle.number in axles]
    pairs = {
        pair: {"scrub": Measure(aim * next(swing), 0.0007, True)} for pair in pairwise(straight)
    }
    return Round(vehicle, axles, pairs, tuple(_findings(axles, pairs)))


def _swing() -> Iterator[float]:
    while True:
        yield from (1.0, -0.6, 0.3, -1.0, 0.0, 0.8)


def _findings(
    axles: dict[int, dict[str, Measure]], pairs: dict[tuple[int, int], dict[str, Measure]]
) -> Iterator[Judgement]:
    named = [(axle, None, name, m) for axle, told in axles.items() for name, m in told.items()]
    named += [(rear, front, name, m) for (front, rear), t in pairs.items() for name, m in t.items()]
    for number, (axle, reference, name, measure) in enumerate(named):
        if name in ("skew",):
            continue
        verdict = VERDICTS[number % 3]
        chance = (0.999, 0.002, 0.61)[number % 3]
        yield Judgement(
            f"{name}-{axle}", name, axle, reference, measure, 0.0, -0.01, 0.01, verdict, chance,
            "an invented source",
        )  # fmt: skip
