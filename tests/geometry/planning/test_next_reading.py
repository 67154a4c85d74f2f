"""Where something is undecided: the reading that a plan asks for, against trying every reading.

Each reading that could be taken is taken on the simulated vehicle and sent along; what it makes of
the uncertainties is then in the answer, with no formula of the planner's.
"""

import math
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import pytest
from geometry.planning.jobs import random_rows
from geometry.planning.layouts import items_of, job_of, put_out, towed, tractor
from geometry.planning.yard import Job, body, row, solved
from simulator import Item, Reading, read, read_all, seeded
from simulator.fleet import Dice, chance

from service.contract.solution import PlanStep, Solution
from service.geometry.planning.adjusters import AXLE_ENDS
from service.geometry.planning.candidates import SPRING_PINS, SWEEP_TURN, TYRE

UNDETERMINED = "undetermined"


def every_reading(job: Job) -> Iterator[Item]:
    """Whatever could be read on the vehicle, with the spreads and baselines read before."""
    vehicle, known = job.vehicle, _told(job.items)
    for axle in vehicle.axles:
        number = axle.number
        yield {"kind": "frame_gap", "axle": number}
        if vehicle.towed or number > 1:
            yield {"kind": "sightline", "axle": number}
        if vehicle.towed and axle.role != "steer":
            yield {"kind": "kingpin_span", "spread": AXLE_ENDS, "axle": number} | known(
                "kingpin_span", number
            )
        yield {"kind": "setback_span", "spread": SPRING_PINS, "axle": number} | known(
            "setback_span", number
        )
        for kind in ("toe_scale", "toe_width"):
            yield {"kind": kind, "axle": number, "baseline": 1.02 if number == 1 else TYRE}
        yield {"kind": "wedge", "axle": number}
        for side in ("left", "right"):
            wheel = {"axle": number, "side": side}
            for angle in ("camber", "caster"):
                yield {"kind": "wheel_angle", "shows": (angle,)} | wheel
            yield {"kind": "caster_sweep", "turn": SWEEP_TURN} | wheel
    for front, rear in pairwise(vehicle.axles):
        pair = {"front_axle": front.number, "rear_axle": rear.number}
        yield {"kind": "axle_span", "spread": AXLE_ENDS} | known("axle_span", rear.number) | pair


def _told(items: list[Item]) -> Any:
    def known(kind: str, axle: int) -> dict[str, Any]:
        for item in items:
            if item["kind"] == kind and axle in (item.get("axle"), item.get("rear_axle")):
                return {"spread": item["spread"]}
        return {}

    return known


def asked(job: Job, more: Item | None = None) -> Solution:
    """The solution of readings as they are usually sent, each as sure as its kind is."""
    readings: list[Reading] = read_all(job.vehicle, job.items)
    if more is not None:
        readings.append(read(job.vehicle, more))
    return solved(body(job, readings))


def gain(before: Solution, after: Solution) -> float:
    """Shares of variance taken off the findings that were undecided, added up."""
    now = {finding.id: finding.estimate.uncertainty for finding in after.findings}
    return math.fsum(
        1 - (now[finding.id] / finding.estimate.uncertainty) ** 2
        for finding in before.findings
        if finding.verdict.value == UNDETERMINED
    )


def advised(answer: Solution) -> PlanStep | None:
    steps = [step for step in answer.plan if step.action.value == "read"]
    assert len(steps) <= 1
    return steps[0] if steps else None


def is_that(step: PlanStep, item: Item) -> bool:
    """Whether an item is the reading that a step asks for."""
    assert step.reading is not None
    axle = item.get("axle", item.get("rear_axle"))
    side = None if step.side is None else step.side.value
    return (step.reading.value, step.axle, side) == (item["kind"], axle, item.get("side"))


def undecided_job(dice: Dice) -> Job:
    """A vehicle a little out of line, not all of it read, under limits hard to be sure of."""
    layouts = (tractor(), tractor("drive"), towed("trailer", 2), towed("dolly", 1))
    vehicle = dice.choice((*layouts, tractor("drive", "drive", "tag"), tractor(steers=2)))
    for axle in vehicle.axles:
        pose: dict[str, float] = {"offset": dice.uniform(-5, 5), "thrust": dice.uniform(-0.2, 0.2)}
        if axle.role == "steer":
            pose["skew"] = dice.uniform(-0.2, 0.2)
        vehicle = put_out(vehicle, axle.number, toe=dice.uniform(-0.1, 0.2), **pose)
    job = job_of(vehicle, random_rows(dice))
    job.items = [item for item in job.items if chance(dice, 65)] or items_of(vehicle)
    return job


@pytest.mark.parametrize(
    "seeds", [range(15), pytest.param(range(15, 300), marks=pytest.mark.long)], ids=["few", "many"]
)
def test_no_other_reading_settles_more(seeds: range) -> None:
    kinds: Counter[str] = Counter()
    for seed in seeds:
        job = undecided_job(seeded(seed))
        before = asked(job)
        step = advised(before)
        if all(finding.verdict.value != UNDETERMINED for finding in before.findings):
            assert step is None
            continue
        gains = [(gain(before, asked(job, item)), item) for item in every_reading(job)]
        best = max(one for one, _ in gains)
        if step is None:
            assert best < 0.03, seed
            continue
        proposed = max(one for one, item in gains if is_that(step, item))
        # A reading more moves the solution a little too, and with it its slopes.
        assert proposed > best * 0.98 - 1e-3, (seed, step.reading, proposed, best)
        assert step.reading is not None
        kinds[step.reading.value] += 1
    assert len(kinds) >= 4
    assert sum(kinds.values()) > len(seeds) / 2


def test_a_reading_that_tells_only_what_nobody_knew_settles_nothing() -> None:
    """Two axles known by their span alone: a line on one tells its aim, and no more of the scrub.

    The solver holds one of the two aims meanwhile, which must not pass for knowing it.
    """
    job = job_of(put_out(towed("trailer", 2), 1, thrust=0.13), [row("scrub", 0.15)])
    job.items = [item for item in job.items if item["kind"] in ("frame_gap", "axle_span")]
    before = asked(job)
    assert [finding.verdict.value for finding in before.findings] == [UNDETERMINED]
    step = advised(before)
    assert step is not None
    assert step.reading is not None
    assert step.reading.value == "axle_span"


def test_an_assumption_that_decides_is_read_before_anything_else() -> None:
    """Axle 2 aims straight for all one knows, but whether it sits centred was never taped."""
    rows = [row("offset", 4.0, axles=[2]), row("thrust", 0.1, roles=["drive"])]
    job = job_of(tractor("drive"), rows)
    job.items = [{"kind": "frame_gap", "axle": 1}, {"kind": "sightline", "axle": 2}]
    before = asked(job)
    assert {assumption.axle for assumption in before.assumptions} == {2}
    step = advised(before)
    assert step is not None
    assert step.reading is not None
    assert (step.reading.value, step.axle) == ("frame_gap", 2)
    assert step.text.startswith("Tape axle 2 to the frame, both sides: of all")
    again = asked(job, {"kind": "frame_gap", "axle": 2})
    assert again.assumptions == []
    assert advised(again) is None


def test_a_reading_that_was_taken_is_asked_for_once_more() -> None:
    job = job_of(tractor("drive"), [row("toe", 0.02, 0.012, axles=[1])])
    job.items = [{"kind": "toe_scale", "axle": 1, "baseline": 1.02}]
    step = advised(asked(job))
    assert step is not None
    assert "once more" in step.text
    assert step.expect == []
    assert step.amount is None


def test_it_comes_after_inspection_and_before_anything_is_moved() -> None:
    vehicle = put_out(tractor(), 3, thrust=0.5)
    job = job_of(vehicle, [row("thrust", 0.06, roles=["drive"])])
    job.items = [item for item in job.items if item["kind"] != "frame_gap"]
    made = body(job, read_all(job.vehicle, job.items))
    made["conditions"] = {"rolled_straight": False}
    assert [step.action.value for step in solved(made).plan][:3] == ["inspect", "read", "aim"]


def test_a_shop_with_a_surer_instrument_is_asked_to_use_it() -> None:
    """A toe scale that is sure to a tenth of the usual is worth more than two widths."""
    job = job_of(tractor("drive"), [row("toe", 0.03, 0.012, axles=[1])])
    job.items = [{"kind": "toe_scale", "axle": 1, "baseline": 1.02}]
    made = body(job, read_all(job.vehicle, job.items))
    for better, worse in (("toe_width", "toe_scale"), ("toe_scale", "toe_width")):
        sizes = {better: "0.05 mm", worse: "5 mm"}
        made["instruments"] = [{"kind": kind, "uncertainty": size} for kind, size in sizes.items()]
        made["readings"][0]["uncertainty"] = "2 mm"
        step = advised(solved(made))
        assert step is not None
        assert step.reading is not None
        assert step.reading.value == better


def test_nothing_is_asked_for_where_all_is_decided() -> None:
    job = job_of(put_out(tractor(), 3, thrust=0.5), [row("thrust", 0.25, roles=["drive"])])
    answer = asked(job)
    assert {f.verdict.value for f in answer.findings} == {"conforming", "nonconforming"}
    assert advised(answer) is None
