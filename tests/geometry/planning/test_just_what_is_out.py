"""A row that is mended by moving just what is out gets the choice that all its ways would give."""

import random
from itertools import pairwise

import pytest

from service.geometry.planning import choose as chooser
from service.geometry.planning.adjusters import LONGITUDINAL, Adjuster
from service.geometry.planning.choose import Search, choose
from service.geometry.planning.each import mended_each
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


def one_make(row: Row) -> Row:
    """The row with the first adjuster of each place alone."""
    return Row([place[:1] for place in row.places], row.links)


@pytest.mark.parametrize("to_nominal", [False, True])
def test_the_choice_is_that_of_all_ways(to_nominal: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    dice = random.Random(20)
    rows = [drawn(dice) for _ in range(300)]
    taken = sum(Search(row, to_nominal).what_is_out() is not None for row in rows)
    at_once = [choose(row, to_nominal) for row in rows]
    monkeypatch.setattr(chooser, "mended_each", lambda *_: None)
    monkeypatch.setattr(Search, "what_is_out", lambda _: None)
    assert at_once == [choose(row, to_nominal) for row in rows]
    assert 50 < taken < 280, "both roads are gone"


@pytest.mark.parametrize("to_nominal", [False, True])
def test_the_nearest_place_inside_is_what_the_chain_finds(
    to_nominal: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    dice = random.Random(21)
    rows = [one_make(drawn(dice)) for _ in range(900)]
    each = [mended_each(row, to_nominal) for row in rows]
    monkeypatch.setattr(chooser, "mended_each", lambda *_: None)
    by_chain = [choose(row, to_nominal) for row in rows]
    taken = [(a, b) for a, b in zip(each, by_chain, strict=True) if a is not None]
    assert [tuple(a) for a, _ in taken] == [(b.exact, b.rounded) for _, b in taken]
    several = sum(
        sum(after != value.start for after, value in zip(a.rounded, b.values, strict=True)) > 1
        for a, b in taken
    )
    in_steps = sum(a.exact != a.rounded for a, _ in taken)
    assert len(taken) > 100
    assert several > 4
    assert in_steps > 50 or to_nominal


def test_one_value_by_itself_goes_to_nominal_where_that_is_asked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    dice = random.Random(22)
    rows = [Row([place], []) for _ in range(200) for place in one_make(drawn(dice)).places]
    at_once = [choose(row, to_nominal=True) for row in rows]
    monkeypatch.setattr(chooser, "mended_each", lambda *_: None)
    assert at_once == [choose(row, to_nominal=True) for row in rows]
    assert sum(choice.exact[0] == 0.0 for choice in at_once) > 50
