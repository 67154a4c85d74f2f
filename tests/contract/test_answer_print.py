"""A solution that is printed by a stencil is, byte for byte, the one that is written as structs."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
from simulator import fleet, noisy, request, seeded, stated

from service.contract import answer_print
from service.contract.answer import Worked, judged, work, write
from service.contract.answer_print import SolutionPrint, print_of, printed
from service.contract.answer_stack import Group, work_together
from service.contract.bodies import reader_of
from service.contract.finite import NotFiniteError
from service.contract.intake import intake_of
from service.contract.replies import encoded
from service.contract.solution import SolutionRequest
from service.contract.taken import Taken, taken
from service.geometry.compiled import EARNED as COMPILED_FROM
from service.geometry.pattern import Pattern
from service.geometry.stack import FEWEST, solve_stack

EXAMPLES = Path(__file__).resolve().parents[2] / "openapi" / "examples"
TANDEM: dict[str, Any] = json.loads(
    (EXAMPLES / "solution-request.tandem-out-of-line.json").read_text("utf-8")
)
WAYS: list[dict[str, Any]] = [
    {},
    {"text": False},
    {"plan": False},
    {"running": False},
    {"steering_ratio": 18.5},
    {"fraction": 16, "target_set": "truck-published"},
    {"conditions": {"rolled_straight": True, "stopped_gently": False, "wheels_on_ground": True}},
    {"conditions": {"rolled_straight": True, "stopped_gently": True, "wheels_on_ground": True}},
    {"centring_uncertainty": "1/8 in"},
]
"""What a request may ask for beside its vehicle."""

_read = reader_of(SolutionRequest).read


def read(body: dict[str, Any]) -> SolutionRequest:
    read: SolutionRequest = _read(msgspec.json.encode(body))
    return read


def vehicles(designs: int, each: int) -> Iterator[dict[str, Any]]:
    """Noisy vehicles of many patterns, `each` of one."""
    dice = seeded(411)
    for number, case in enumerate(fleet(seeded(410), designs=designs, each=each)):
        readings = [noisy(stated(reading), dice) for reading in case.readings]
        yield request(case.vehicle, readings, ("mm", "in", "cm")[number // each % 3])


def ready_for(asked: SolutionRequest, done: Worked) -> SolutionPrint | None:
    """The print of a solution, which then has come once more."""
    solved = done.solved
    return print_of(asked, solved.pattern, done.todo, done.kept_as, solved.run is not None)


def worked(asked: SolutionRequest) -> Worked:
    return work(intake_of(asked))


@pytest.mark.parametrize("way", WAYS, ids=lambda way: "-".join(way) or "plain")
def test_a_printed_solution_is_the_written_one(way: dict[str, Any]) -> None:
    by_stencil = 0
    for body in vehicles(designs=25, each=8):
        asked = read(body | way)
        done = worked(asked)
        assert printed(asked, done) == encoded(write(asked, done))
        by_stencil += ready_for(asked, done) is not None
    assert by_stencil > 70


def test_a_plan_and_what_it_leads_to_are_printed_as_they_are_written() -> None:
    asked = read(TANDEM)
    done = worked(asked)
    for _ in range(6):
        assert printed(asked, done) == encoded(write(asked, done))
    assert ready_for(asked, done) is not None
    assert write(asked, done).prediction is not None


@pytest.mark.parametrize("way", WAYS, ids=lambda way: "-".join(way) or "plain")
def test_vehicles_that_are_worked_out_together_are_printed_as_each_is_written(
    way: dict[str, Any],
) -> None:
    together = 0
    for pattern, asked in alike(vehicles(designs=20, each=FEWEST + 8), way).items():
        pattern.seen = COMPILED_FROM * pattern.rows
        for vehicle, done in zip(asked, work_together(pattern, asked), strict=True):
            one = vehicle.request
            if done is not None:
                group, at = done
                solved = group._stack.solved(group._places[at])
                written = encoded(write(one, judged(intake_of(one), solved)))
                assert group.printed(at) == written
                together += 1
    assert together > 250


@pytest.mark.parametrize("wrong", [float("nan"), float("inf")])
@pytest.mark.parametrize("column", ["values", "uncertainties"])
def test_one_number_of_a_stack_that_is_not_finite_spoils_no_other_vehicle(
    column: str, wrong: float
) -> None:
    way = {"text": False, "plan": False}
    for pattern, asked in alike(vehicles(designs=6, each=FEWEST + 3), way).items():
        pattern.seen = COMPILED_FROM * pattern.rows
        stack = solve_stack(pattern, [one.numbers for one in asked])
        if stack is None or not all(stack.sound):
            continue
        getattr(stack, column)[3, 0] = wrong
        group = Group(asked, stack, list(range(len(asked))))
        with pytest.raises(NotFiniteError):
            group.printed(3)
        assert json.loads(group.printed(2))["findings"] is not None
        return
    raise AssertionError("no stack was found")


def alike(bodies: Iterator[dict[str, Any]], way: dict[str, Any]) -> dict[Pattern, list[Taken]]:
    """Vehicles by their pattern, as `work_together` takes them."""
    found: dict[Pattern, list[Taken]] = {}
    for body in bodies:
        one = taken(msgspec.json.encode(body | way))
        found.setdefault(one.pattern, []).append(one)
    return found


@pytest.mark.parametrize("wrong", [float("nan"), float("inf")])
@pytest.mark.parametrize("field", ["values", "uncertainties"])
def test_a_number_that_is_not_finite_is_not_printed(field: str, wrong: float) -> None:
    asked = read(next(vehicles(designs=1, each=1)) | {"text": False, "plan": False})
    done = worked(asked)
    for _ in range(6):
        printed(asked, done)
    assert ready_for(asked, done) is not None
    broken = [wrong, *getattr(done.solved, field)[1:]]
    with pytest.raises(NotFiniteError):
        printed(asked, done._replace(solved=done.solved._replace(**{field: broken})))


def test_a_shop_that_sends_its_own_targets_has_its_solution_written() -> None:
    rows = [{"quantity": "thrust", "unit": "deg", "nominal": "0", "lower": "-1", "upper": "1"}]
    row = rows[0] | {"roles": [], "axles": [], "source": "an invented shop"}
    asked = read(TANDEM | {"target_set": None, "targets": {"rows": [row]}})
    done = worked(asked)
    for _ in range(6):
        assert ready_for(asked, done) is None
    assert printed(asked, done) == encoded(write(asked, done))


def test_no_more_stencils_are_kept_than_there_is_room_for() -> None:
    for fraction in range(2, 65):
        for ratio in (None, 15.0):
            for running in (True, False):
                more = {"fraction": fraction, "running": running, "steering_ratio": ratio}
                asked = read(TANDEM | more)
                ready_for(asked, worked(asked))
    assert len(answer_print._kept) <= answer_print.MOST_KEPT
