"""A vehicle that no adjuster mends is given up in time, with no harm done."""

import random

import pytest
from geometry.planning.layouts import job_of, put_out, towed
from geometry.planning.yard import BOTH, LEFT_END, LONGITUDINAL, Adjuster, Job, row, solution

from service.geometry.planning import runs, steps
from service.geometry.planning.effort import MOST

AXLES = 12
WORST = {"conforming": 0, "undetermined": 1, "nonconforming": 2}


def hopeless(seed: int) -> Job:
    """Twelve axles at random, each moved in coarse steps by either of two adjusters."""
    dice = random.Random(seed)
    vehicle = towed("trailer", AXLES)
    adjusters = {}
    for number in range(1, AXLES + 1):
        vehicle = put_out(vehicle, number, thrust=dice.uniform(-0.5, 0.5))
        adjusters[number] = [
            Adjuster(LONGITUDINAL, ends, dice.uniform(0.9, 1.9), dice.uniform(2e-3, 5e-3))
            for ends in (BOTH, LEFT_END)
        ]
    rows = [row("thrust", 0.07), row("scrub", 0.04)]
    return job_of(vehicle, rows, adjusters, "sightline", "frame_gap", rule="simple")


@pytest.mark.parametrize("seed", [1, 2])
def test_no_row_costs_more_than_its_effort(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    asked, real = [0], runs.least_cost

    def counted(*arguments: object) -> object:
        asked[0] += 1
        return real(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(runs, "least_cost", counted)
    monkeypatch.setattr(steps, "least_cost", counted)
    answer = solution(hopeless(seed))
    # A branch looks both below and above a step for the effort of one.
    assert MOST / 2 < asked[0] <= 2 * MOST
    assert answer.remaining
    assert all("was found to bring it inside" in one.text for one in answer.remaining)


@pytest.mark.parametrize("seed", [1, 2])
def test_what_was_found_by_then_makes_nothing_worse(seed: int) -> None:
    answer = solution(hopeless(seed))
    assert answer.prediction is not None
    better = 0
    for was, now in zip(answer.findings, answer.prediction.findings, strict=True):
        assert WORST[now.verdict.value] <= WORST[was.verdict.value]
        better += WORST[now.verdict.value] < WORST[was.verdict.value]
    assert better > AXLES / 2
