"""A solution that is printed by a stencil is, byte for byte, the one that is written as structs."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
from simulator import fleet, noisy, request, seeded, stated

from service.contract import answer_print
from service.contract.answer import Worked, work, write
from service.contract.answer_print import print_of, printed
from service.contract.answer_stack import work_together
from service.contract.bodies import reader_of
from service.contract.finite import NotFiniteError
from service.contract.intake import Intake, intake_of
from service.contract.replies import encoded
from service.contract.solution import SolutionRequest
from service.geometry.pattern import Pattern, pattern_of, split
from service.geometry.uncertainty import TAPE

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


def worked(asked: SolutionRequest) -> Worked:
    return work(intake_of(asked))


@pytest.mark.parametrize("way", WAYS, ids=lambda way: "-".join(way) or "plain")
def test_a_printed_solution_is_the_written_one(way: dict[str, Any]) -> None:
    by_stencil = 0
    for body in vehicles(designs=25, each=8):
        asked = read(body | way)
        done = worked(asked)
        assert printed(asked, done) == encoded(write(asked, done))
        by_stencil += print_of(asked, done) is not None
    assert by_stencil > 70


def test_a_plan_and_what_it_leads_to_are_printed_as_they_are_written() -> None:
    asked = read(TANDEM)
    done = worked(asked)
    for _ in range(6):
        assert printed(asked, done) == encoded(write(asked, done))
    assert print_of(asked, done) is not None
    assert write(asked, done).prediction is not None


def test_vehicles_that_are_worked_out_together_are_printed_as_each_is_written() -> None:
    together = 0
    for pattern, asked in alike(vehicles(designs=30, each=30)).items():
        done = work_together(pattern, asked)
        for (one, _, _), of_one in zip(asked, done, strict=True):
            if of_one is not None:
                written = encoded(write(one, of_one.worked))
                assert printed(one, of_one.worked, of_one.figures) == written
                together += of_one.figures is not None
    assert together > 300


def alike(
    bodies: Iterator[dict[str, Any]],
) -> dict[Pattern, list[tuple[SolutionRequest, Intake, list[float]]]]:
    """Requests by their pattern, as `work_together` takes them."""
    found: dict[Pattern, list[tuple[SolutionRequest, Intake, list[float]]]] = {}
    for body in bodies:
        asked = read(body)
        intake = intake_of(asked)
        shape, numbers = split(
            intake.vehicle, intake.readings, intake.centring_uncertainty, TAPE, intake.frame_angle
        )
        found.setdefault(pattern_of(shape), []).append((asked, intake, numbers))
    return found


@pytest.mark.parametrize("wrong", [float("nan"), float("inf")])
@pytest.mark.parametrize("field", ["values", "uncertainties"])
def test_a_number_that_is_not_finite_is_not_printed(field: str, wrong: float) -> None:
    asked = read(next(vehicles(designs=1, each=1)) | {"text": False, "plan": False})
    done = worked(asked)
    for _ in range(6):
        printed(asked, done)
    ready = print_of(asked, done)
    assert ready is not None
    broken = [wrong, *getattr(done.solved, field)[1:]]
    figures = ready.geometry.figures(done.solved._replace(**{field: broken}))
    with pytest.raises(NotFiniteError):
        printed(asked, done, figures)


def test_a_shop_that_sends_its_own_targets_has_its_solution_written() -> None:
    rows = [{"quantity": "thrust", "unit": "deg", "nominal": "0", "lower": "-1", "upper": "1"}]
    row = rows[0] | {"roles": [], "axles": [], "source": "an invented shop"}
    asked = read(TANDEM | {"target_set": None, "targets": {"rows": [row]}})
    done = worked(asked)
    for _ in range(6):
        assert print_of(asked, done) is None
    assert printed(asked, done) == encoded(write(asked, done))


def test_no_more_stencils_are_kept_than_there_is_room_for() -> None:
    for fraction in range(2, 65):
        for ratio in (None, 15.0):
            for running in (True, False):
                more = {"fraction": fraction, "running": running, "steering_ratio": ratio}
                asked = read(TANDEM | more)
                print_of(asked, worked(asked))
    assert len(answer_print._kept) <= answer_print.MOST_KEPT
