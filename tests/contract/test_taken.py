"""A known vehicle of a batch is taken as any other: the same numbers, and the same refusals."""

import json
from typing import Any

import msgspec
import pytest

from service.contract.intake import intake_of
from service.contract.intake_quick import EARNED, Quick
from service.contract.problem_catalogue import (
    DUPLICATE_KEY,
    NEGATIVE_TAPE_READING,
    UNKNOWN_TARGET_SET,
)
from service.contract.problems import ProblemError
from service.contract.taken import taken

# An invented tractor.
TRACTOR: dict[str, Any] = {
    "length_unit": "in",
    "vehicle": {
        "unit": "tractor",
        "axles": [
            {"number": 1, "role": "steer", "distance": "0", "tyre_diameter": "40.2"},
            {"number": 2, "role": "drive", "distance": "187 1/2"},
            {"number": 3, "role": "drive", "distance": "239 1/2"},
        ],
    },
    "readings": [
        {"kind": "sightline", "axle": 2, "left": "3 7/16", "right": "3 13/32"},
        {"kind": "sightline", "axle": 3, "left": "3 5/16", "right": "3 1/4"},
        {"kind": "frame_gap", "axle": 2, "left": "30 3/16", "right": "30 1/8"},
        {"kind": "toe_scale", "axle": 1, "toe": "1/16"},
    ],
}


def known() -> dict[str, Any]:
    """The tractor, once it has come often enough to be known."""
    for _ in range(EARNED + 1):
        found = taken(msgspec.json.encode(TRACTOR))
    assert isinstance(found.by, Quick), "a known vehicle needs no whole intake"
    return json.loads(json.dumps(TRACTOR))


def types_of(text: bytes) -> list[str]:
    with pytest.raises(ProblemError) as caught:
        taken(text)
    return [error.type for error in caught.value.errors]


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"target_set": "truck-published"},
        {"centring_uncertainty": "1/8"},
        {"frame_angle": "0.5"},
        {"instruments": [{"kind": "sightline", "uncertainty": "1/16"}]},
        {"conditions": {"rolled_straight": True}},
        {"steering_ratio": 18.5, "text": False},
    ],
    ids=lambda more: "-".join(more) or "plain",
)
def test_it_has_the_numbers_and_targets_of_its_whole_intake(more: dict[str, Any]) -> None:
    body = known() | more
    body["readings"][0]["left"] = "3 1/2"
    found = taken(msgspec.json.encode(body))
    whole = intake_of(found.request)
    assert (found.pattern, found.numbers) == whole.numbered
    assert found.targets is whole.targets
    assert found.built_in == whole.built_in
    assert found.centring == whole.centring_uncertainty
    assert list(found.intake.readings) == list(whole.readings)
    assert [type(one) for one in found.intake.readings] == [type(one) for one in whole.readings]
    assert list(found.intake.places) == list(whole.places)
    for axle in (1, 2, 3):
        assert found.intake.adjusters()[axle] == whole.adjusters()[axle]


@pytest.mark.parametrize(
    ("place", "again"),
    [
        (b'"length_unit":"in"', b'"length_unit":"mm",'),
        (b'"unit":"tractor"', b'"unit":"truck",'),
        (b'"number":2', b'"number":4,'),
        (b'"left":"3 7/16"', b'"left":"3 1/2",'),
        (b'"kind":"toe_scale"', b'"kind":"toe_scale",'),
        (b'"left":"3 7/16"', b'"\\u006ceft":"3 1/2",'),
    ],
)
def test_a_key_that_stands_twice_is_found_in_it(place: bytes, again: bytes) -> None:
    text = msgspec.json.encode(known())
    assert text.count(place) == 1
    assert types_of(text.replace(place, again + place)) == [DUPLICATE_KEY.type]


def test_a_key_that_stands_twice_comes_before_what_else_is_wrong() -> None:
    text = msgspec.json.encode(known() | {"target_set": "nowhere"})
    assert types_of(text) == [UNKNOWN_TARGET_SET.type]
    twice = text.replace(b'"target_set"', b'"target_set":"common-practice","target_set"')
    assert types_of(twice) == [DUPLICATE_KEY.type]


def test_what_its_axles_say_of_adjusters_is_read() -> None:
    body = known()
    body["vehicle"]["axles"][2]["adjusters"] = [{"kind": "longitudinal", "increment": "1 mm"}]
    found = taken(msgspec.json.encode(body))
    assert [one.increment for one in found.intake.adjusters()[3]] == [0.001]
    body["vehicle"]["axles"][2]["adjusters"] = [{"kind": "longitudinal", "increment": "nothing"}]
    assert len(types_of(msgspec.json.encode(body))) == 1


def test_a_reading_that_cannot_be_true_is_refused_as_of_any_vehicle() -> None:
    body = known()
    body["readings"][2]["left"] = "-3"
    assert types_of(msgspec.json.encode(body)) == [NEGATIVE_TAPE_READING.type]
