"""Readings that are read quickly are read as they are one by one, and refused as they are."""

import copy
import random
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest
from simulator import fleet, noisy, request, seeded, stated

from service.contract import intake_quick
from service.contract.bodies import reader_of
from service.contract.intake import Intake, Readings, intake_of
from service.contract.intake_bench import bench_of
from service.contract.moulds import Poured
from service.contract.problems import ProblemError
from service.contract.solution import SolutionRequest
from service.geometry.pattern import Pattern, pattern_of, split
from service.geometry.uncertainty import TAPE

WAYS: list[dict[str, Any]] = [
    {},
    {"centring_uncertainty": "1/8 in"},
    {"frame_angle": "0.5"},
    {"instruments": [{"kind": "sightline", "uncertainty": "1/16 in"}]},
]
WRONG = ("-3", "0", "nonsense", "9999999 in", "-89°", "1/0", "3 1/2 in", "2.5")
"""Texts that some readings cannot have, and some can."""

_read = reader_of(SolutionRequest).read


def vehicles(designs: int, each: int) -> Iterator[dict[str, Any]]:
    """Noisy vehicles, `each` of one design with readings of its own every time."""
    dice = seeded(511)
    for number, case in enumerate(fleet(seeded(510), designs=designs, each=1)):
        for _ in range(each):
            readings = [noisy(stated(reading), dice) for reading in case.readings]
            body = request(case.vehicle, readings, ("mm", "in", "cm")[number % 3])
            for reading in body["readings"]:
                reading.pop("uncertainty", None)
            yield body


def taken(body: dict[str, Any]) -> SolutionRequest:
    taken: SolutionRequest = _read(msgspec.json.encode(body))
    return taken


def each_of(asked: SolutionRequest, intake: Intake) -> Readings:
    bench = bench_of(asked.instruments, asked.length_unit.value, intake.vehicle, [])
    return Readings(asked.readings, bench)


def one_by_one(asked: SolutionRequest, intake: Intake) -> tuple[Pattern, list[float]]:
    frame = intake.numbered[1][2]
    readings = each_of(asked, intake).readings
    shape, numbers = split(intake.vehicle, readings, intake.centring_uncertainty, TAPE, frame)
    return pattern_of(shape), numbers


@pytest.mark.parametrize("way", WAYS, ids=lambda way: "-".join(way) or "plain")
def test_the_numbers_are_those_of_readings_read_one_by_one(way: dict[str, Any]) -> None:
    quick = 0
    for body in vehicles(designs=40, each=6):
        asked = taken(body | way)
        intake = intake_of(asked)
        assert intake.numbered == one_by_one(asked, intake)
        if isinstance(intake.given, Poured):
            quick += 1
            each = each_of(asked, intake)
            assert list(intake.readings) == each.readings
            assert list(intake.places) == each.places
            assert intake.given.spreads() == each.spreads()
    assert quick > 60 if "instruments" not in way else quick == 0


def test_a_request_is_refused_for_the_same_reasons() -> None:
    dice = random.Random(512)
    refused = 0
    for number, body in enumerate(vehicles(designs=40, each=6)):
        intake_of(taken(body))
        if number % 6 < 3:
            continue
        broken = copy.deepcopy(body)
        for _ in range(dice.choice((1, 1, 2))):
            change(dice.choice(broken["readings"]), dice)
        asked = told(broken)
        kept = dict(intake_quick._kept)
        intake_quick._kept.clear()
        assert told(broken) == asked
        intake_quick._kept.update(kept)
        refused += isinstance(asked, list)
    assert refused > 40


def change(reading: dict[str, Any], dice: random.Random) -> None:
    """Put something in a reading that may be wrong there."""
    field = dice.choice(sorted(set(reading) - {"kind"}))
    if field in ("axle", "front_axle", "rear_axle", "reference"):
        reading[field] = dice.randint(1, 12)
    elif field not in ("side", "left_thick_end", "right_thick_end"):
        reading[field] = dice.choice(WRONG)


def told(body: dict[str, Any]) -> Any:
    """The numbers of a request, or all that is wrong with it."""
    try:
        asked = taken(body)
        return intake_of(asked).numbered
    except ProblemError as problem:
        return [msgspec.json.encode(error) for error in problem.errors]


def test_no_more_is_kept_than_there_is_room_for() -> None:
    for body in vehicles(designs=intake_quick.MOST_KEPT // 2, each=1):
        for unit in ("in", "mm", "cm"):
            told(body | {"length_unit": unit})
    assert len(intake_quick._kept) <= intake_quick.MOST_KEPT
