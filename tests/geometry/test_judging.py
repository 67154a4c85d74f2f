"""A stack of vehicles is judged as each of them is by itself, to the last bit."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.geometry.findings import Judgement, judge
from service.geometry.judging import judge_stack
from service.geometry.pattern import Pattern
from service.geometry.solve import Solved
from service.geometry.targets import Target

numbers = st.floats(-0.01, 0.01)
sizes = st.one_of(st.just(0.0), st.floats(1e-9, 0.01))
vehicles = st.lists(st.tuples(numbers, sizes), min_size=1, max_size=8)


def row(lower: float | None, upper: float | None) -> Judgement:
    target = Target("thrust", "angle", 0.0, lower, upper, (), (), None, "invented")
    return Judgement(0, target, False)


def solved(value: float, u: float) -> Solved:
    pattern: Pattern = object.__new__(Pattern)
    return Solved(pattern, [], [], [], [value], [u], None, False)


@pytest.mark.parametrize("rule", ["guarded", "simple"])
@pytest.mark.parametrize(
    ("lower", "upper"), [(-0.003, 0.003), (None, 0.003), (-0.003, None), (None, None)]
)
@given(told=vehicles)
def test_each_finding_of_a_stack_is_that_of_its_vehicle(
    lower: float | None, upper: float | None, rule: str, told: list[tuple[float, float]]
) -> None:
    todo = [row(lower, upper)]
    stack = [solved(value, u) for value, u in told]
    values, uncertainties = np.array(told).T[:, :, None]
    found = judge_stack(values, uncertainties, todo, rule)
    alone = [judge(one, todo, rule) for one in stack]
    assert [found.of(place) for place in range(len(stack))] == alone
    failing = {at for at, one in enumerate(alone) if one[0].verdict != "conforming"}
    assert found.failing == failing
