"""A plan carried out on a simulated vehicle does what it says: thousands of random jobs."""

from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
from geometry.planning.jobs import random_job, stood_square
from geometry.planning.technician import adjuster_of, carried_out, size
from geometry.planning.truth import si, truth
from geometry.planning.yard import TIE_ROD, Job, solution
from hypothesis import given, settings
from hypothesis import strategies as st
from simulator import seeded
from simulator.readings import VALUES
from simulator.strategies import DrawnDice

from service.contract.solution import PlanStep, Solution
from service.contract.vehicle import AdjusterEnds

EXACT = 1e-9
"""Metres and radians."""

WORST = {"conforming": 0, "undetermined": 1, "nonconforming": 2}


@pytest.fixture(
    scope="module",
    params=[range(300), pytest.param(range(300, 4000), marks=pytest.mark.long)],
    ids=["few", "many"],
)
def done(request: pytest.FixtureRequest) -> list[tuple[Job, Solution]]:
    """Random jobs and their answers."""
    jobs = (random_job(seeded(seed)) for seed in request.param)
    return [(job, solution(job)) for job in jobs]


def moves(answer: Solution) -> list[PlanStep]:
    return [step for step in answer.plan if step.amount is not None]


def check_prediction(job: Job, answer: Solution) -> int:
    """Whether the predicted geometry is that of the vehicle moved; how many numbers were seen."""
    if not moves(answer):
        assert answer.prediction is None
        return 0
    assert answer.prediction is not None
    real, seen = truth(job, carried_out(job, answer.plan)[-1]), 0
    for axle in answer.prediction.axles:
        for name in (key[0] for key in real if key[1] == axle.number):
            estimate = getattr(axle, name, None)
            if estimate is not None:
                told = si(estimate.value, estimate.unit.value)
                assert told == pytest.approx(real[name, axle.number], abs=EXACT), name
                seen += 1
    for pair in answer.prediction.pairs:
        for name in ("scrub", "span_difference"):
            estimate = getattr(pair, name)
            if estimate is not None:
                told = si(estimate.value, estimate.unit.value)
                assert told == pytest.approx(real[name, pair.rear], abs=EXACT), name
                seen += 1
    return seen


def check_expected(job: Job, answer: Solution) -> int:
    """Whether every mark that a step expects is what the moved vehicle shows."""
    seen = 0
    for step, vehicle in zip(answer.plan, carried_out(job, answer.plan), strict=True):
        read = job.stood(vehicle).readings()
        for expected in step.expect:
            reading = read[int(expected.pointer.rpartition("/")[2])]
            assert expected.kind.value == reading["kind"]
            for mark in expected.marks:
                value = reading[mark.name]
                if reading["kind"] == "wedge":
                    value *= {"rear": 1, "front": -1}[reading[f"{mark.name}_thick_end"]]
                assert si(mark.value, mark.unit.value) == pytest.approx(value, abs=EXACT)
                assert mark.lower is None or mark.lower <= mark.value
                assert mark.upper is None or mark.upper >= mark.value
                seen += 1
    return seen


def test_the_prediction_is_the_vehicle_moved(done: list[tuple[Job, Solution]]) -> None:
    assert sum(check_prediction(job, answer) for job, answer in done) > 20 * len(done)


def test_every_scale_shows_what_the_step_expects(done: list[tuple[Job, Solution]]) -> None:
    assert sum(check_expected(job, answer) for job, answer in done) > 3 * len(done)


def changed_marks(job: Job, answer: Solution) -> Iterator[tuple[PlanStep, int, str]]:
    """Step, reading and mark wherever a step moves a mark by more than an eye can miss."""
    before = job.readings()
    for step, vehicle in zip(answer.plan, carried_out(job, answer.plan), strict=True):
        after = job.stood(vehicle).readings()
        for place, (was, now) in enumerate(zip(before, after, strict=True)):
            for name in VALUES[was["kind"]]:
                if name in was and abs(now[name] - was[name]) > 1e-4:
                    yield step, place, name
        before = after


def test_no_scale_that_a_step_moves_is_left_out(done: list[tuple[Job, Solution]]) -> None:
    seen = 0
    for job, answer in done:
        for step, place, name in changed_marks(job, answer):
            told = {
                (expected.pointer, mark.name) for expected in step.expect for mark in expected.marks
            }
            assert (f"#/readings/{place}", name) in told
            seen += 1
    assert seen > 2 * len(done)


def test_random_plans_use_every_action(done: list[tuple[Job, Solution]]) -> None:
    """Without this the checks above could pass on plans that do next to nothing."""
    told = Counter(step.action.value for _, answer in done for step in moves(answer))
    assert {name: count > 0.08 * len(done) for name, count in told.items()} == dict.fromkeys(
        ("centre", "aim", "square", "match_wedges", "set_toe"), True
    )


def test_a_finding_never_gets_worse(done: list[tuple[Job, Solution]]) -> None:
    seen = 0
    for _, answer in done:
        if answer.prediction is not None:
            for was, now in zip(answer.findings, answer.prediction.findings, strict=True):
                assert WORST[now.verdict.value] <= WORST[was.verdict.value]
                seen += was.verdict.value == "conforming"
    assert seen > 2 * len(done)


def test_what_remains_is_named_and_nothing_else(done: list[tuple[Job, Solution]]) -> None:
    """Every finding that was out is mended or remains; `beyond` is what the prediction shows."""
    seen = 0
    for _, answer in done:
        now = answer.findings if answer.prediction is None else answer.prediction.findings
        out = {
            f.id: max(f.lower - f.estimate.value, f.estimate.value - f.upper, 0.0)
            for was, f in zip(answer.findings, now, strict=True)
            if was.verdict.value == "nonconforming" and f.verdict.value != "conforming"
        }
        told = {remainder.finding: remainder.beyond for remainder in answer.remaining}
        assert told == pytest.approx(out, abs=1e-9)
        seen += len(told)
    assert seen > len(done) / 3


def shifts_the_start(answer: Solution) -> bool:
    """Whether the front axle turns about one end, so that distances count from elsewhere.

    A thrust told as a side difference over the distance then changes by parts in ten thousand.
    """
    return any(
        step.action.value == "square" and step.axle == 1 and step.ends is not AdjusterEnds.BOTH_ENDS
        for step in answer.plan
    )


def test_a_second_look_finds_nothing_left_to_do(done: list[tuple[Job, Solution]]) -> None:
    """Where nothing remained, whatever was out conforms when the moved vehicle is read again."""
    seen = 0
    for job, answer in done:
        if moves(answer) and not answer.remaining and not shifts_the_start(answer):
            again = solution(job.stood(carried_out(job, answer.plan)[-1]))
            assert not moves(again)
            assert not again.remaining
            for was, now in zip(answer.findings, again.findings, strict=True):
                if was.verdict.value != "undetermined":
                    assert now.verdict.value == "conforming"
            seen += 1
    assert seen > len(done) / 5


def test_amounts_are_whole_steps_within_the_travel(done: list[tuple[Job, Solution]]) -> None:
    seen = Counter[str]()
    for job, answer in done:
        for step in moves(answer):
            adjuster = adjuster_of(job, step)
            if adjuster is None or (adjuster.kind == TIE_ROD and adjuster.pitch is None):
                continue
            amount = step.turns if adjuster.kind == TIE_ROD else size(step)
            assert amount is not None
            if adjuster.increment is not None:
                count = amount / adjuster.increment
                assert count == pytest.approx(round(count), abs=1e-6)
                assert round(count) >= 1
                seen[f"steps of {adjuster.kind}"] += 1
            if adjuster.travel is not None:
                assert amount <= adjuster.travel * (1 + 1e-9)
                seen[f"travel of {adjuster.kind}"] += 1
    assert min(seen.values()) > len(done) / 50
    assert len(seen) == 7, "a wedge has no travel here"


def test_wedges_come_in_half_degrees_where_nothing_is_said(
    done: list[tuple[Job, Solution]],
) -> None:
    """US Navy NAVEDTRA 14050A, p. 191: caster shims come in half-degree steps."""
    seen = 0
    for job, answer in done:
        for step in moves(answer):
            told = job.adjusters.get(step.axle or 0)
            if step.action.value == "match_wedges" and told is None:
                assert step.amount is not None
                assert step.amount.value * 2 == pytest.approx(round(step.amount.value * 2))
                seen += 1
    assert seen > len(done) / 50


def test_a_vehicle_that_conforms_gets_no_plan() -> None:
    seen = 0
    for seed in range(200):
        job = random_job(seeded(seed))
        job.rows = [r for r in job.rows if not isinstance(r, str) and met_when_square(r)]
        if not job.rows:
            continue
        answer = solution(stood_square(job))
        if all(f.verdict.value == "conforming" for f in answer.findings):
            assert answer.plan == []
            assert answer.prediction is None
            assert answer.remaining == []
            seen += 1
    assert seen > 100


def met_when_square(row: dict[str, Any]) -> bool:
    """Whether a vehicle that stands square is at the nominal of a target row."""
    if "caster" in row["quantity"] or "wedge" in row["quantity"]:
        return False
    return "toe" in row["quantity"] or abs(float(row["nominal"])) < 0.01


@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_drawn_jobs(data: st.DataObject) -> None:
    """The same, drawn by hypothesis, so that a failing job shrinks to a small one."""
    job = random_job(DrawnDice(data.draw))
    answer = solution(job)
    check_prediction(job, answer)
    check_expected(job, answer)
    if not answer.remaining and not shifts_the_start(answer):
        again = solution(job.stood(carried_out(job, answer.plan)[-1])) if answer.plan else answer
        assert not moves(again)
