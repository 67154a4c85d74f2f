"""A row in which one value alone is out gets the choice that a look at all its ways would make."""

import random
from itertools import pairwise

import pytest

from service.geometry.planning.adjusters import LONGITUDINAL, Adjuster
from service.geometry.planning.choose import Search, choose
from service.geometry.planning.rows import AIM, Limit, Link, Row, Value

WIDE, NARROW = 2e-3, 1.2e-3
"""Limits of an aim and of the difference of two, radians."""


def limit(finding: int, half: float, at: float, shift: float) -> Limit:
    """Limits about `shift` of a value that stands at a place."""
    low, high = shift - half, shift + half
    excess = max(low - at, at - high, 0.0)
    return Limit(finding, low, high, excess > 0.0, excess > 0.0, excess)


def drawn(dice: random.Random) -> Row:
    """Two to five aims of which one is likely to be out, moved by one or two adjusters each."""
    count = dice.randint(2, 5)
    starts = [dice.uniform(-0.4, 0.4) * NARROW for _ in range(count)]
    starts[dice.randrange(count)] = dice.uniform(1.0, 4.0) * WIDE * dice.choice((-1, 1))
    if dice.random() < 0.3:
        starts[dice.randrange(count)] = dice.uniform(0.5, 2.0) * WIDE
    places = []
    for number, start in enumerate(starts):
        limits = [limit(number, WIDE, start, dice.uniform(-0.3, 0.3) * WIDE)]
        makes = [
            Adjuster(
                LONGITUDINAL,
                dice.choice((None, "left", "right")),
                dice.uniform(0.9, 1.9),
                dice.choice((None, 5e-4, 2e-3)),
                dice.choice((None, None, 4e-3)),
            )
            for _ in range(dice.randint(1, 2))
        ]
        places.append([Value(AIM, number, None, (number,), start, 0.0, limits, a) for a in makes])
    links = [
        Link([limit(count + place, NARROW, after - before, 0.0)], 0.0)
        for place, (before, after) in enumerate(pairwise(starts))
    ]
    return Row(places, links)


@pytest.mark.parametrize("to_nominal", [False, True])
def test_the_choice_is_that_of_all_ways(to_nominal: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    dice = random.Random(20)
    rows = [drawn(dice) for _ in range(300)]
    taken = sum(Search(row, to_nominal).only_one() is not None for row in rows)
    at_once = [choose(row, to_nominal) for row in rows]
    monkeypatch.setattr(Search, "only_one", lambda _: None)
    assert at_once == [choose(row, to_nominal) for row in rows]
    assert 50 < taken < 250, "both roads are gone"
