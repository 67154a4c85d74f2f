"""A mirrored vehicle with mirrored adjusters gets the mirrored plan: sides swap, amounts stay."""

from dataclasses import replace
from typing import Any

import pytest
from geometry.planning.jobs import random_job
from geometry.planning.yard import MIRRORED, Job, row, solution
from simulator import FLIPPED, mirror_vehicle, seeded

from service.contract.solution import PlanStep

OTHER = MIRRORED | {"forward": "forward", "rearward": "rearward", "in": "in", "out": "out"}


def mirrored_row(told: dict[str, Any]) -> dict[str, Any]:
    """A target row as it holds for the mirrored vehicle."""
    name = told["quantity"]
    if name in FLIPPED:
        nominal, lower, upper = (float(told[key]) for key in ("nominal", "lower", "upper"))
        signed = {"nominal": -nominal, "lower": -upper, "upper": -lower}
        return told | {key: f"{value:.12f}" for key, value in signed.items()}
    stem, _, side = name.rpartition("_")
    return told | ({"quantity": f"{stem}_{OTHER[side]}"} if side in OTHER else {})


def mirrored_item(item: dict[str, Any]) -> dict[str, Any]:
    return item | ({"side": OTHER[item["side"]]} if "side" in item else {})


def mirrored(job: Job) -> Job:
    """The job as seen in a mirror on the centreline."""
    assert not isinstance(job.rows, str)
    return replace(
        job,
        vehicle=mirror_vehicle(job.vehicle),
        items=[mirrored_item(item) for item in job.items],
        rows=[mirrored_row(told) for told in job.rows],
        adjusters={
            axle: [replace(a, ends=OTHER[a.ends]) for a in adjusters]
            for axle, adjusters in job.adjusters.items()
        },
    )


def told(step: PlanStep) -> dict[str, Any]:
    """A step without its words and numbers of readings.

    Nor with the side of a wheel to be measured: where both would tell as much either may be asked.
    """
    moves = step.amount is not None
    return {
        "action": step.action.value,
        "axle": step.axle,
        "side": step.side.value if moves and step.side is not None else None,
        "ends": None if step.ends is None else step.ends.value,
        "direction": None if step.direction is None else step.direction.value,
        "amount": None if step.amount is None else pytest.approx(step.amount.value, abs=1e-7),
        "reading": None if step.reading is None else step.reading.value,
        "turns": None if step.turns is None else pytest.approx(step.turns, abs=1e-6),
    }


def seen_in_mirror(step: dict[str, Any]) -> dict[str, Any]:
    swapped = {
        key: OTHER[step[key]] for key in ("side", "ends", "direction") if step[key] is not None
    }
    if step["action"] in ("aim", "square") and step["ends"] == "both_ends":
        swapped["direction"] = step["direction"]
    return step | swapped


def in_order(steps: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Left before right within a wedge pair: there the order of steps is that of the sides."""
    key = ("action", "axle", "side")
    return sorted(steps, key=lambda step: tuple(str(step[name]) for name in key))


@pytest.mark.parametrize(
    "seeds",
    [range(100), range(220, 221), pytest.param(range(100, 2000), marks=pytest.mark.long)],
    ids=["few", "two_wedges_alike", "many"],
)
def test_a_mirrored_job_has_the_mirrored_plan(seeds: range) -> None:
    seen = 0
    for seed in seeds:
        job = random_job(seeded(seed))
        # Open on one side, so that a mirrored row is another row than its original.
        job.rows = [*job.rows, row("offset", 20.0, 1.0)] if isinstance(job.rows, list) else []
        plain, through = solution(job), solution(mirrored(job))
        expected = [seen_in_mirror(told(step)) for step in plain.plan]
        assert in_order([told(step) for step in through.plan]) == in_order(expected), seed
        assert len(plain.remaining) == len(through.remaining)
        beyond = sorted(one.beyond for one in plain.remaining)
        assert sorted(one.beyond for one in through.remaining) == pytest.approx(beyond, abs=1e-7)
        seen += sum(step.amount is not None for step in plain.plan)
    assert seen > 2 * len(seeds)
