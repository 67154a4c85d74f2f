"""Steps come in the order the trade works, each with what it is for."""

from dataclasses import replace

import pytest
from geometry.planning.jobs import random_job
from geometry.planning.layouts import DEGREE, job_of, put_out, tractor, with_wheels
from geometry.planning.yard import SOUND, Adjuster, body, row, solution, solved
from simulator import Wheel, seeded

ORDER = ("inspect", "read", "centre", "aim", "square", "match_wedges", "set_toe")

ALL_ROWS = [
    row("offset", 4.0),
    row("thrust", 0.1, roles=["drive", "tag"]),
    row("scrub", 0.1),
    row("setback", 3.0, roles=["steer"]),
    row("wedge_difference", 0.6),
    row("toe", 0.08, 0.09, roles=["steer"]),
    row("caster_left", 0.1, 4.2),
]


def wreck() -> tuple[dict, list[str]]:
    """A request of a vehicle on which everything is out, and something undecided."""
    vehicle = tractor("drive", "drive", "tag")
    for number in (2, 3, 4):
        vehicle = put_out(vehicle, number, offset=9.0, thrust=0.5 * (-1) ** number)
    vehicle = put_out(vehicle, 1, skew=0.5, toe=0.6)
    wheels = Wheel(caster=4.1 * DEGREE), Wheel(caster=4 * DEGREE, wedge=2 * DEGREE)
    made = body(job_of(with_wheels(vehicle, 1, *wheels), ALL_ROWS))
    made["conditions"] = SOUND | {"level_ground": False, "tyres_matched": False}
    return made, [step.action.value for step in solved(made).plan]


def test_all_there_is_to_do_in_the_order_of_the_trade() -> None:
    _, actions = wreck()
    assert sorted(actions, key=ORDER.index) == actions
    assert tuple(dict.fromkeys(actions)) == ORDER


def test_steps_are_numbered_from_one() -> None:
    made, actions = wreck()
    assert [step.step for step in solved(made).plan] == list(range(1, len(actions) + 1))


def test_axles_follow_each_other_from_the_front_within_an_action() -> None:
    made, _ = wreck()
    plan = solved(made).plan
    for action in ORDER[2:]:
        axles = [step.axle for step in plan if step.action.value == action]
        assert axles == sorted(axles)  # type: ignore[type-var]
    assert [step.axle for step in plan if step.action.value == "centre"] == [2, 3, 4]


def test_random_plans_keep_the_order() -> None:
    seen = 0
    for seed in range(80):
        actions = [step.action.value for step in solution(random_job(seeded(seed))).plan]
        assert sorted(actions, key=ORDER.index) == actions
        seen += len(set(actions)) > 2
    assert seen > 25


def test_a_denied_condition_is_inspected_first_even_if_all_conforms() -> None:
    made = body(job_of(tractor(), [row("offset", 6.0)]))
    assert solved(made).plan == []
    made["conditions"] = SOUND | {"wheels_on_ground": False}
    (step,) = solved(made).plan
    assert (step.action.value, step.axle, step.amount) == ("inspect", None, None)
    assert "off the ground" in step.text


def test_every_move_says_which_findings_it_mends() -> None:
    out = 0
    for seed in range(80):
        answer = solution(random_job(seeded(seed)))
        before = {f.id: f.verdict.value for f in answer.findings}
        for step in answer.plan:
            if step.amount is not None:
                assert step.because
                assert {before[finding] for finding in step.because} == {"nonconforming"}
                out += 1
    assert out > 120


def test_an_axle_that_makes_room_for_its_neighbours_moves_for_their_sake() -> None:
    """The middle one conforms in itself and to its neighbours; they can't leave without it."""
    vehicle = tractor("drive", "drive", "drive")
    for number, thrust in ((2, 0.35), (3, 0.24), (4, 0.35)):
        vehicle = put_out(vehicle, number, thrust=thrust)
    rows = [row("thrust", 0.25, roles=["drive"]), row("scrub", 0.15)]
    small = [Adjuster("longitudinal", spread=1.8)]
    job = job_of(vehicle, rows, dict.fromkeys((2, 3, 4), small), rule="simple")
    job = replace(job, rows=[row("thrust", 0.05, roles=["drive"], axles=[2, 4]), rows[1]])
    answer = solution(job)
    middle = next(step for step in answer.plan if step.axle == 3)
    assert set(middle.because) == {"thrust-2", "thrust-4"}
    assert answer.remaining == []


@pytest.mark.parametrize("text", [True, False])
def test_texts_can_be_left_out(text: bool) -> None:
    made, _ = wreck()
    plan = solved(made | {"text": text}).plan
    marks = [mark.text for step in plan for e in step.expect for mark in e.marks]
    amounts = [a.text for step in plan for a in (step.amount, step.exact) if a is not None]
    assert all(bool(words) == text for words in (*marks, *amounts, *(s.text for s in plan)))
