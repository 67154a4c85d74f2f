"""Traced formulas compute what the formulas compute, each operation once."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.geometry.numbers import Functions, Number
from service.geometry.tracing import Trace

ORDINARY = st.floats(min_value=0.1, max_value=10.0)


def formula(a: Number, b: Number, f: Functions) -> list[Number]:
    """Every operation and function that formulas use, and constants that come to nothing."""
    shared = a * b + 1.0 * a + 0.0
    return [
        shared,
        shared / (b - 0.25 * a + 20),
        -(2 / shared) - abs(0.5 - b),
        f.sqrt(a) + f.hypot(a, b) * f.sin(shared) - f.cos(b) * f.tan(0.1 * a) + f.atan(a**3),
        0.0 * a,
        1 - b / 1.0 * -1.0,
    ]


def traced() -> tuple[Trace, list[Number]]:
    trace = Trace()
    v = trace.argument("v")
    return trace, formula(v[0], v[1], trace)


@given(a=ORDINARY, b=ORDINARY)
def test_traced_code_gives_the_numbers_that_its_formula_gives(a: float, b: float) -> None:
    trace, results = traced()
    [found] = trace.function("v", [results])(math, [a, b])
    assert found == pytest.approx(formula(a, b, math), rel=1e-15)


def test_traced_code_takes_arrays_as_it_takes_floats() -> None:
    trace, results = traced()
    code = trace.function("v", [results])
    a, b = np.array([0.5, 1.5, 2.5]), np.array([3.0, 0.2, 1.0])
    [stacked] = code(np, [a, b])
    for place in range(3):
        [single] = code(math, [float(a[place]), float(b[place])])
        for column, number in zip(stacked, single, strict=True):
            one = column if isinstance(column, float) else column[place]
            assert one == pytest.approx(number, rel=1e-15)


def test_an_operation_that_comes_twice_is_done_once() -> None:
    trace = Trace()
    v = trace.argument("v")
    first, second = v[0] * v[1] + v[2], v[2] + v[1] * v[0]
    assert first.node == second.node
    assert len(trace.nodes) == 5


def test_constants_are_told_from_places_of_other_operations() -> None:
    trace = Trace()
    v = trace.argument("v")
    doubled, squared = v[0] * 2, v[1] * (v[0] * v[0])
    [found] = trace.function("v", [[doubled, squared]])(math, [3.0, 5.0])
    assert found == [6.0, 45.0]


def test_a_formula_that_hangs_on_its_numbers_cannot_be_traced() -> None:
    v = Trace().argument("v")
    with pytest.raises(TypeError, match="must not hang on"):
        bool(v[0])
    with pytest.raises(TypeError, match="must not alter"):
        list(v)


def test_what_no_result_needs_is_left_out() -> None:
    trace = Trace()
    v = trace.argument("v")
    _ = 1 / v[1]
    [found] = trace.function("v", [[v[0] + 1.0]])(math, [2.0, 0.0])
    assert found == [3.0]


def test_very_long_sums_are_written_in_several_lines() -> None:
    trace = Trace()
    v = trace.argument("v")
    total = v[0]
    for place in range(1, 500):
        total = total + v[place]
    [found] = trace.function("v", [[total]])(math, [1.0] * 500)
    assert found == [500.0]
