"""The band beside each expected mark: within it the step is right, beyond it something is out.

A technician overshoots or stops short until the scale stands at an end of its band, does all the
other steps as planned, and the vehicle is read again.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction

import msgspec
import pytest
from geometry.planning.jobs import random_job
from geometry.planning.layouts import DEGREE, job_of, put_out, tractor, with_wheels
from geometry.planning.technician import after_step
from geometry.planning.truth import si
from geometry.planning.yard import BOTH, LATERAL, LONGITUDINAL, Adjuster, Job, row, solution
from simulator import Vehicle, Wheel, seeded

from service.contract.solution import ExpectedMark, Finding, PlanStep, Solution
from service.geometry.planning.words import fitting

WITHIN, BEYOND = 0.97, 0.15
"""How far to an end of the band a scale is brought from where its step is planned, and how far past
it, as a share of the whole band: plans keep a hair more inside than they must."""

NEXT_TO_NOTHING = 2e-4
"""A band as narrow as that (metres, radians) is not tried."""


def scaled(step: PlanStep, factor: float) -> PlanStep:
    """The step with its amount taken so many times."""
    assert step.amount is not None
    amount = msgspec.structs.replace(step.amount, value=step.amount.value * factor)
    turns = None if step.turns is None else step.turns * factor
    return msgspec.structs.replace(step, amount=amount, turns=turns)


def shown(job: Job, vehicle: Vehicle, reading: int, name: str) -> float:
    """What one scale of the vehicle shows, metres or radians."""
    return float(job.stood(vehicle).readings()[reading][name])


def brought_to(
    job: Job, vehicle: Vehicle, step: PlanStep, reading: int, name: str, mark: float
) -> float:
    """How many times the step's amount brings a scale to a mark, by the secant method."""
    factors = [1.0, 1.01]
    marks = [shown(job, after_step(job, vehicle, scaled(step, f)), reading, name) for f in factors]
    for _ in range(6):
        rise = (marks[-1] - marks[-2]) / (factors[-1] - factors[-2] or 1.0)
        if not rise or abs(marks[-1] - mark) < 1e-12:
            break
        factors.append(factors[-1] + (mark - marks[-1]) / rise)
        moved = after_step(job, vehicle, scaled(step, factors[-1]))
        marks.append(shown(job, moved, reading, name))
    assert marks[-1] == pytest.approx(mark, abs=1e-9)
    return factors[-1]


def done_otherwise(job: Job, answer: Solution, number: int, factor: float) -> Solution:
    """The solution of the vehicle on which one step was taken so many times."""
    vehicle = job.vehicle
    for place, step in enumerate(answer.plan):
        taken = scaled(step, factor) if place == number else step
        vehicle = after_step(job, vehicle, taken)
    return solution(job.stood(vehicle))


def bands(job: Job, answer: Solution) -> Iterator[tuple[int, int, ExpectedMark, Vehicle]]:
    """Step, reading and the mark that it moves most, with the vehicle before the step."""
    vehicle = job.vehicle
    for number, step in enumerate(answer.plan):
        if step.expect and step.amount is not None:
            marks = [
                (int(expected.pointer.rpartition("/")[2]), mark)
                for expected in step.expect
                for mark in expected.marks
            ]
            spread = [
                (mark.upper - mark.lower, reading, mark)
                for reading, mark in marks
                if mark.lower is not None
                and mark.upper is not None
                and tells(job, vehicle, step, reading, mark.name)
            ]
            if spread:
                _, reading, mark = max(spread, key=lambda one: one[0])
                yield number, reading, mark, vehicle
        vehicle = after_step(job, vehicle, step)


def tells(job: Job, vehicle: Vehicle, step: PlanStep, reading: int, name: str) -> bool:
    """Whether a mark follows the step; one that hardly does has the band of an earlier step."""
    assert step.amount is not None
    marks = [shown(job, after_step(job, vehicle, scaled(step, f)), reading, name) for f in (1, 1.1)]
    return abs(marks[1] - marks[0]) > 0.05 * 0.1 * si(step.amount.value, step.amount.unit.value)


def all_well(findings: Sequence[Finding]) -> bool:
    return all(finding.verdict.value == "conforming" for finding in findings)


def test_within_the_band_all_conforms_and_beyond_it_something_does_not() -> None:
    seen = {True: 0, False: 0}
    for seed in range(100):
        job = random_job(seeded(5000 + seed))
        answer = solution(job)
        if answer.prediction is None or not all_well(answer.prediction.findings):
            continue
        for number, reading, mark, vehicle in bands(job, answer):
            step = answer.plan[number]
            planned = shown(job, after_step(job, vehicle, step), reading, mark.name)
            if planned != pytest.approx(si(mark.value, mark.unit.value), abs=1e-9):
                # A wedge's reading is its size, and which end is thick is told beside it.
                assert step.action.value == "match_wedges"
                continue
            if is_pivot(step) and "centre" in {other.action.value for other in answer.plan}:
                continue
            for at, well in tried(mark, planned):
                factor = brought_to(job, vehicle, step, reading, mark.name, at)
                again = done_otherwise(job, answer, number, factor)
                assert all_well(again.findings) == well, (seed, number, at)
                seen[well] += 1
    assert min(seen.values()) > 80


def is_pivot(step: PlanStep) -> bool:
    """Whether an axle turns about one end, which takes its centre along by thousandths of a mm.

    Centred for where that end as planned leaves it, it lies on the edge of its own limits.
    """
    return step.ends is not None and step.ends.value != BOTH


def tried(mark: ExpectedMark, planned: float) -> Iterator[tuple[float, bool]]:
    """Marks just within and just beyond the ends of a band, and whether all is well there."""
    assert mark.lower is not None
    assert mark.upper is not None
    lower, upper = (si(edge, mark.unit.value) for edge in (mark.lower, mark.upper))
    for edge in (lower, upper):
        if abs(edge - planned) > NEXT_TO_NOTHING:
            yield planned + WITHIN * (edge - planned), True
    if upper - lower > NEXT_TO_NOTHING:
        yield lower - BEYOND * (upper - lower), False
        yield upper + BEYOND * (upper - lower), False


def test_a_mark_is_told_as_a_step_of_the_scale_within_its_band() -> None:
    """A toe of 0.110 in that may be 0.1115 in is not told as 1/8 in, which would be outside."""
    rows = [row("toe_length", 0, 0.11, unit="in", baseline="1020 mm", roles=["steer"])]
    rows[0] |= {"lower": "0.01", "upper": "0.1115"}
    job = job_of(put_out(tractor(), 1, toe=0.3), rows, unit="in", rule="simple")
    (step,) = solution(job).plan
    (mark,) = step.expect[0].marks
    assert mark.value == pytest.approx(0.110)
    assert 7 / 64 < mark.value < 1 / 8, "the nearest 32nd is 1/8"
    assert mark.text == "3/32 in"


@pytest.mark.parametrize("unit", ["in", "mm", "cm"])
def test_texts_of_marks_and_amounts_make_the_step_right(unit: str) -> None:
    """What a technician reads is what he does, so that is carried out and read again."""
    seen = 0
    for thrust in range(-60, 61, 4):
        vehicle = put_out(tractor(), 3, thrust=thrust / 97, offset=thrust / 5.3)
        rows = [row("thrust", 0.12, roles=["drive"]), row("scrub", 0.12), row("offset", 5.0)]
        free = {3: [Adjuster(LATERAL), Adjuster(LONGITUDINAL)]}
        job = job_of(vehicle, rows, free, unit=unit, rule="simple")
        for step in solution(job).plan:
            assert step.amount is not None
            told = read_text(step.amount.text)
            assert f" {step.amount.text}" in step.text
            vehicle = after_step(job, vehicle, scaled(step, told / step.amount.value))
            for expected in step.expect:
                for mark in expected.marks:
                    if mark.upper - mark.lower > 0.2:
                        assert mark.lower <= read_text(mark.text) <= mark.upper
                        seen += 1
        assert all_well(solution(job.stood(vehicle)).findings)
    assert seen > 50


def read_text(text: str) -> float:
    """A length as a person reads it: `-2 3/16 in`, `3.2 mm`."""
    number = text.rpartition(" ")[0]
    size = float(sum(Fraction(part) for part in number.removeprefix("-").split()))
    return -size if text.startswith("-") else size


def test_where_no_step_of_the_scale_is_within_the_nearest_is_told() -> None:
    assert fitting(0.30, 0.26, 0.40, 0.25) == 0.30
    assert fitting(0.30, 0.20, 0.40, 0.25) == 0.25
    assert fitting(0.45, 0.20, 0.47, 0.25) == 0.25
    assert fitting(-0.45, -0.47, -0.20, 0.25) == -0.25


def test_a_mark_that_hardly_tells_of_a_step_has_no_band() -> None:
    """A frame gap changes by the cosine of an aim: no tape tells by it how far the axle turned."""
    job = job_of(put_out(tractor(), 3, thrust=0.9), [row("thrust", 0.1, roles=["drive"])])
    (step,) = (step for step in solution(job).plan if step.amount is not None)
    told = {expected.kind.value: expected.marks for expected in step.expect}
    assert {"sightline", "frame_gap"} <= told.keys()
    assert all(mark.lower is mark.upper is None for mark in told["frame_gap"])
    assert all(mark.lower is not None and mark.upper is not None for mark in told["sightline"])


def test_a_mark_that_a_later_step_hardly_moves_keeps_the_band_it_had() -> None:
    """Centred first, then aimed: the gaps must be right for the centring all the while."""
    vehicle = put_out(tractor(), 3, thrust=0.9, offset=12.0)
    rows = [row("thrust", 0.1, roles=["drive"]), row("offset", 5.0)]
    centre, aim = (s for s in solution(job_of(vehicle, rows)).plan if s.amount is not None)
    first, then = (
        next(e.marks for e in step.expect if e.kind.value == "frame_gap") for step in (centre, aim)
    )
    for before, after in zip(first, then, strict=True):
        assert before.lower is not None
        assert before.upper is not None
        assert after.lower is not None
        assert after.upper is not None
        gone = after.value - before.value
        assert 0.02 < abs(gone) < 0.3, "in millimetres"
        assert after.lower - before.lower == pytest.approx(gone, abs=1e-9)
        assert after.upper - before.upper == pytest.approx(gone, abs=1e-9)


@pytest.mark.parametrize(("sign", "end"), [(1, "rear"), (-1, "front")])
def test_a_wedge_is_told_by_its_size_and_its_thick_end(sign: int, end: str) -> None:
    left, right = (Wheel(wedge=sign * size * DEGREE) for size in (1.0, 3.5))
    answer = solution(
        job_of(with_wheels(tractor(), 1, left, right), [row("wedge_difference", 0.6)])
    )
    texts = [
        mark.text
        for step in answer.plan
        for expected in step.expect
        if expected.kind.value == "wedge"
        for mark in expected.marks
    ]
    assert texts
    assert all(text.endswith(f"0°, thick end to the {end}") for text in texts)
