"""Steps of a plan that are printed from what is kept are, byte for byte, those of its structs."""

import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import msgspec
import pytest
from geometry.planning.jobs import random_adjusters, random_job
from geometry.planning.layouts import DEGREE, job_of, put_out, tractor, with_wheels
from geometry.planning.yard import LONGITUDINAL, SOUND, TIE_ROD, Adjuster, Job, body, row
from simulator import Wheel, seeded
from simulator.fleet import Dice

from service.contract import print_plan
from service.contract.answer import Worked, work
from service.contract.answer_estimates import scale_of
from service.contract.answer_plan import plan_of, written
from service.contract.bodies import reader_of
from service.contract.finite import NotFiniteError
from service.contract.intake import Intake, intake_of
from service.contract.print_move import MovePrint
from service.contract.print_plan import EARNED, PlanPrint
from service.contract.replies import encoded
from service.contract.solution import SolutionRequest
from service.geometry.planning.plan import Move, Plan

WAYS: list[dict[str, Any]] = [
    {},
    {"text": False},
    {"fraction": 16},
    {"fraction": 10},
    {"plan_to": "nominal"},
    {"conditions": SOUND | {"stopped_gently": False, "tyres_matched": False}},
]

_read = reader_of(SolutionRequest).read


def read(made: dict[str, Any]) -> SolutionRequest:
    asked: SolutionRequest = _read(msgspec.json.encode(made))
    return asked


def stood_otherwise(job: Job, dice: Dice) -> Job:
    """The job on a vehicle that is read alike and stands otherwise, with other adjusters."""
    axles = [
        replace(
            axle,
            **{
                name: getattr(axle, name) * dice.uniform(0.6, 1.4) * dice.choice((1, 1, 1, -1))
                for name in ("offset", "thrust", "skew", "toe")
            },
        )
        for axle in job.vehicle.axles
    ]
    roles = {axle.number: axle.role for axle in axles}
    adjusters = {n: random_adjusters(dice, roles[n] == "steer") for n in job.adjusters}
    return replace(job, vehicle=replace(job.vehicle, axles=axles), adjusters=adjusters)


def jobs(seeds: range, each: int) -> Iterator[Job]:
    """Random jobs, each on so many vehicles more that are read alike."""
    for seed in seeds:
        dice = seeded(seed)
        job = random_job(dice)
        yield job
        for _ in range(each):
            yield stood_otherwise(job, dice)


def print_for(prints: dict[object, PlanPrint], asked: SolutionRequest, done: Worked) -> PlanPrint:
    """The print of a vehicle's kind, one for all that are read and judged alike."""
    scale = scale_of(asked.length_unit, asked.fraction, asked.text)
    ids = tuple((job.quantity, job.target) for job in done.todo)
    key = done.solved.pattern, ids, scale
    return prints.setdefault(key, PlanPrint(done.solved.pattern, done.todo, scale))


def by_structs(asked: SolutionRequest, done: Worked, plan: Plan) -> tuple[bytes, bytes]:
    """The steps and what remains, written as structs."""
    scale = scale_of(asked.length_unit, asked.fraction, asked.text)
    told = written(asked, done.intake, done.solved.pattern, done.findings, plan, scale)
    steps, remaining = (b",".join(map(encoded, items)) for items in (told.steps, told.remaining))
    return b"[" + steps + b"]", b"[" + remaining + b"]"


def planned(asked: SolutionRequest) -> tuple[Worked, Plan]:
    done = work(intake_of(asked))
    return done, plan_of(asked, done.intake, done.solved, done.findings, done.todo)


@pytest.fixture
def filled(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """By action, how many moves were printed by what was cut from another vehicle's move."""
    count, cut_from = Counter[str](), dict[MovePrint, Move]()
    plain = MovePrint.printed

    def printed(self: MovePrint, move: Move, number: int, intake: Intake) -> bytes | None:
        first = cut_from.setdefault(self, move)
        count[move.value.action] += first is not move
        return plain(self, move, number, intake)

    monkeypatch.setattr(MovePrint, "printed", printed)
    return count


@pytest.mark.parametrize("way", WAYS, ids=lambda way: "-".join(way) or "plain")
def test_printed_steps_are_the_written_ones(way: dict[str, Any], filled: Counter[str]) -> None:
    prints: dict[object, PlanPrint] = {}
    for job in jobs(range(60), each=7):
        asked = read(body(job) | way)
        done, plan = planned(asked)
        ready = print_for(prints, asked, done)
        assert ready.printed(asked, done.intake, plan) == by_structs(asked, done, plan)
    assert set(filled) == {"centre", "aim", "square", "match_wedges", "set_toe"}
    assert min(filled.values()) > 10


@pytest.mark.parametrize("unit", ["in", "mm", "cm"])
def test_each_unit_has_its_own_words(unit: str, filled: Counter[str]) -> None:
    prints: dict[object, PlanPrint] = {}
    for job in jobs(range(100, 115), each=7):
        asked = read(body(replace(job, unit=unit)))
        done, plan = planned(asked)
        ready = print_for(prints, asked, done)
        assert ready.printed(asked, done.intake, plan) == by_structs(asked, done, plan)
    assert filled.total() > 50


def printed_as_written(mades: list[dict[str, Any]]) -> PlanPrint:
    """The one print that all of these have, which printed each of them as its structs are."""
    prints: dict[object, PlanPrint] = {}
    for made in mades:
        asked = read(made)
        done, plan = planned(asked)
        ready = print_for(prints, asked, done)
        assert plan.moves
        assert ready.printed(asked, done.intake, plan) == by_structs(asked, done, plan)
    (ready,) = prints.values()
    return ready


@pytest.mark.parametrize("text", [True, False])
def test_tie_rods_of_every_description_are_told_apart(text: bool, filled: Counter[str]) -> None:
    rods = [
        Adjuster(TIE_ROD),
        Adjuster(TIE_ROD, pitch=1.5e-3, arm=0.2),
        Adjuster(TIE_ROD, pitch=1.5e-3, arm=0.18, increment=0.125),
    ]
    rows = [row("toe", 0.08, 0.09, roles=["steer"])]
    printed_as_written(
        [
            body(job_of(put_out(tractor(), 1, toe=toe), rows, {1: [rod]})) | {"text": text}
            for toe in (0.4, -0.5, 0.62, 0.31, -0.27, -0.44, 0.7, 0.55, -0.66, -0.71)
            for rod in rods
        ]
    )
    assert filled["set_toe"] > 4


def test_screws_steps_and_neither_are_told_apart(filled: Counter[str]) -> None:
    turnings = [
        Adjuster(LONGITUDINAL),
        Adjuster(LONGITUDINAL, pitch=2e-3),
        Adjuster(LONGITUDINAL, increment=1e-3),
        Adjuster(LONGITUDINAL, spread=1.2, pitch=1.8e-3, increment=0.45e-3),
    ]
    rows = [row("thrust", 0.1, roles=["drive"])]
    printed_as_written(
        [
            body(job_of(put_out(tractor(), 3, thrust=thrust), rows, {3: [turning]}))
            for thrust in (0.4, -0.5, 0.62, 0.31, -0.27, -0.44, 0.7, 0.55, -0.66, -0.71)
            for turning in turnings
        ]
    )
    assert filled["aim"] > 4


def test_an_axle_goes_either_way(filled: Counter[str]) -> None:
    rows = [row("offset", 4.0), row("thrust", 0.1, roles=["drive"]), row("setback", 3.0)]
    mades = []
    for out in (1.0, -1.1, 1.2, -1.3, 0.9, -0.8, 1.4, -1.5):
        vehicle = put_out(tractor(), 3, offset=9.0 * out, thrust=0.4 * out)
        mades.append(body(job_of(put_out(vehicle, 1, skew=0.5 * out), rows)))
    printed_as_written(mades)
    assert set(filled) == {"centre", "aim", "square"}


def test_a_mark_points_to_its_reading_however_many_were_sent_as_one() -> None:
    """Two angles of a wheel may be sent as one reading, or each as one: the pattern is the same."""
    angles = {"kind": "wheel_angle", "axle": 2, "side": "left"}
    apart = [angles | {"shows": ("camber",)}, angles | {"shows": ("toe",)}]
    mades = []
    for thrust in (0.4, 0.45, 0.5, 0.55):
        vehicle = put_out(tractor(), 2, thrust=thrust)
        for sent in ([angles | {"shows": ("toe", "camber")}], apart[::-1]):
            job = job_of(vehicle, [row("thrust", 0.1, roles=["drive"])])
            mades.append(body(replace(job, items=[*sent, *job.items])))
    printed_as_written(mades)


def wreck(shift: float) -> dict[str, Any]:
    """A vehicle on which all is out, something is undecided and something remains so."""
    vehicle = put_out(tractor("drive", "drive"), 2, offset=9.0 + shift, thrust=0.5)
    vehicle = put_out(vehicle, 1, skew=0.5 + shift / 9, toe=0.6)
    wheels = (
        Wheel(camber=(2 + shift) * DEGREE, caster=4.1 * DEGREE),
        Wheel(caster=4 * DEGREE, wedge=2 * DEGREE),
    )
    rows = [
        row("offset", 4.0),
        row("thrust", 0.1, roles=["drive"]),
        row("setback", 3.0, roles=["steer"]),
        row("camber_left", 0.5),
        row("caster_left", 0.1, 4.2),
    ]
    return body(job_of(with_wheels(vehicle, 1, *wheels), rows))


@pytest.mark.parametrize("text", [True, False])
def test_what_is_asked_for_and_what_remains_is_printed_as_it_is_written(text: bool) -> None:
    prints: dict[object, PlanPrint] = {}
    steps, remaining = set(), 0
    for shift in (0.0, 0.3, 0.7):
        asked = read(wreck(shift) | {"text": text})
        done, plan = planned(asked)
        ready = print_for(prints, asked, done)
        found = ready.printed(asked, done.intake, plan)
        assert found == by_structs(asked, done, plan)
        steps |= {step["action"] for step in json.loads(found[0])}
        remaining += len(json.loads(found[1]))
    assert len(prints) == 1
    assert "read" in steps
    assert remaining > 2


@pytest.mark.parametrize("wrong", [float("nan"), float("inf")])
def test_a_number_that_is_not_finite_is_not_printed(wrong: float) -> None:
    asked = read(wreck(0.0) | {"text": False})
    done, plan = planned(asked)
    ready = print_for({}, asked, done)
    for _ in range(EARNED + 1):
        ready.printed(asked, done.intake, plan)
    for field in ("amount", "exact_amount"):
        broken = [move._replace(**{field: wrong}) for move in plan.moves]
        with pytest.raises(NotFiniteError):
            ready.printed(asked, done.intake, plan._replace(moves=broken))


def test_no_more_kinds_are_kept_than_there_is_room_for(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = read(wreck(0.0))
    done, plan = planned(asked)
    for _ in range(print_plan.MOST_KEPT):
        print_for({}, asked, done).printed(asked, done.intake, plan)
    kept = (print_plan._met, print_plan._moves, print_plan._asked)
    assert max(map(len, kept)) == print_plan.MOST_KEPT
