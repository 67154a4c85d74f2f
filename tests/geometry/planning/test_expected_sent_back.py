"""Readings that show what the steps of a plan expect, sent back, leave nothing to be done."""

from typing import Any

from geometry.planning.jobs import random_job
from geometry.planning.test_plan_in_the_yard import moves
from geometry.planning.truth import si
from geometry.planning.yard import Job, body, solution, solved
from simulator import seeded

from service.contract.solution import Solution
from service.contract.vehicle import AdjusterEnds


def as_expected(job: Job, answer: Solution) -> list[dict[str, Any]]:
    """The readings of a job, each mark as the last step that speaks of it wants it."""
    readings: list[dict[str, Any]] = job.readings()
    for step in answer.plan:
        for expected in step.expect:
            reading = readings[int(expected.pointer.rpartition("/")[2])]
            for mark in expected.marks:
                value = si(mark.value, mark.unit.value)
                if reading["kind"] == "wedge":
                    reading[f"{mark.name}_thick_end"] = "front" if value < 0 else "rear"
                    value = abs(value)
                reading[mark.name] = value
    return readings


FAR = 0.025
"""Metres that one end of an axle goes: beyond that the distances that were stated at first are
stale, and whoever reads again tapes them anew."""


def goes_far(answer: Solution) -> bool:
    """Whether an axle is turned about one end so far that its stated distance is stale."""
    return any(
        step.amount is not None
        and step.ends not in (None, AdjusterEnds.BOTH_ENDS)
        and si(step.amount.value, step.amount.unit.value) > FAR
        for step in answer.plan
    )


def test_what_was_out_conforms_and_no_move_is_left() -> None:
    """Under the guarded rule; where the value decides alone, a hair beside its limit does."""
    seen = 0
    for seed in range(1000):
        job = random_job(seeded(8000 + seed))
        if job.rule != "guarded":
            continue
        answer = solution(job)
        if moves(answer) and not answer.remaining and not goes_far(answer):
            again = solved(body(job, as_expected(job, answer)))
            assert not moves(again), seed
            assert not again.remaining, seed
            for was, now in zip(answer.findings, again.findings, strict=True):
                if was.verdict.value != "undetermined":
                    assert now.verdict.value == "conforming", (seed, now.id)
            seen += 1
    assert seen > 200
