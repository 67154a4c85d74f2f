"""What is hard to believe of a vehicle is seen in a stack as it is of the vehicle by itself."""

from geometry.test_stack import numbered
from simulator import fleet, seeded

from service.geometry.compiled import EARNED
from service.geometry.pattern import Pattern
from service.geometry.plausibility import doubts, hard_to_believe
from service.geometry.stack import FEWEST, Stack, solve_stack

SLIP = 0.0254 * 12
"""A distance read a foot wrong, metres: invented."""


def stacks(designs: int) -> list[Stack]:
    """Vehicles of the fleet by pattern, an axle of every third one a foot further back."""
    dice = seeded(801)
    found: dict[Pattern, list[list[float]]] = {}
    for at, case in enumerate(fleet(seeded(802), designs=designs, each=FEWEST + 6)):
        pattern, numbers = numbered(case, dice)
        if at % 3 == 0:
            numbers[max(pattern.distance_of.values())] += SLIP
        found.setdefault(pattern, []).append(numbers)
    solved = []
    for pattern, several in found.items():
        pattern.seen = EARNED * pattern.rows
        stack = solve_stack(pattern, several)
        if stack is not None:
            solved.append(stack)
    return solved


def test_a_stack_doubts_the_vehicles_that_have_a_doubt_by_themselves() -> None:
    spans, angles, none = 0, 0, 0
    for stack in stacks(designs=60):
        told = {at: doubts(stack.solved(at)) for at in range(len(stack.numbers))}
        doubted = hard_to_believe(stack.pattern, stack.values, stack.numbers)
        assert doubted == {at for at, found in told.items() if found}
        codes = [doubt.code for found in told.values() for doubt in found]
        spans += codes.count("span-against-distance")
        angles += len(codes) - codes.count("span-against-distance")
        none += len(told) - len(doubted)
    assert min(spans, angles, none) > 20, (spans, angles, none)


def test_a_span_is_off_by_what_the_distance_was_misread_by() -> None:
    """Both sides of an axle span run along the frame: a foot too much there is a foot here."""
    seen = 0
    for stack in stacks(designs=60):
        last = max(stack.pattern.distance_of, key=stack.pattern.distance_of.__getitem__)
        for at in range(len(stack.numbers)):
            for doubt in doubts(stack.solved(at)):
                if doubt.reading is not None:
                    kind, *axles = stack.pattern.shape.readings[doubt.reading]
                    assert kind in ("axle_span", "kingpin_span")
                    assert axles[-1] == last
                    assert abs(abs(doubt.size) - SLIP) < 0.03
                    seen += 1
    assert seen > 20
