"""A refused body is told every rule it breaks: where, of which kind, and how to write it right."""

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest

from service.contract.bodies import reader_of
from service.contract.examples import examples_folder
from service.contract.problems import MAX_ERRORS, FieldError, ProblemError
from service.contract.solution import SolutionRequest

SAMPLE = json.loads((examples_folder() / "solution-request.json").read_bytes())


def problem_of(change: Callable[[dict[str, Any]], object]) -> ProblemError:
    body = copy.deepcopy(SAMPLE)
    change(body)
    with pytest.raises(ProblemError) as caught:
        reader_of(SolutionRequest).read(json.dumps(body).encode())
    return caught.value


def only_error(change: Callable[[dict[str, Any]], object]) -> tuple[str, FieldError]:
    problem = problem_of(change)
    assert len(problem.errors) == 1, problem.errors
    assert problem.kind.type == problem.errors[0].type
    return problem.kind.slug, problem.errors[0]


def test_an_unknown_kind_of_reading_names_those_that_are_known() -> None:
    slug, error = only_error(lambda body: body["readings"][0].update(kind="sightlin"))
    assert (slug, error.pointer) == ("unknown-reading-kind", "#/readings/0/kind")
    assert "`sightline`, `frame_gap`" in error.hint


def test_a_reading_without_a_kind_is_of_no_known_kind() -> None:
    slug, error = only_error(lambda body: body["readings"][0].pop("kind"))
    assert (slug, error.pointer) == ("unknown-reading-kind", "#/readings/0/kind")


@pytest.mark.parametrize(("kept", "lost"), [("left", "right"), ("right", "left")])
def test_one_side_without_the_other_is_an_incomplete_pair(kept: str, lost: str) -> None:
    slug, error = only_error(lambda body: body["readings"][1].pop(lost))
    assert (slug, error.pointer) == ("incomplete-pair", f"#/readings/1/{lost}")
    assert kept in error.detail


def test_a_sweep_with_one_turn_is_an_incomplete_pair() -> None:
    sweep = {"kind": "caster_sweep", "axle": 1, "side": "left", "turn": "20"}
    slug, error = only_error(
        lambda body: body["readings"].append({**sweep, "camber_left_turn": "0.5"})
    )
    assert (slug, error.pointer) == ("incomplete-pair", "#/readings/6/camber_right_turn")


def test_both_sides_missing_are_two_missing_fields() -> None:
    problem = problem_of(lambda body: [body["readings"][1].pop(side) for side in ("left", "right")])
    assert [error.type for error in problem.errors] == ["/problems/contract-broken"] * 2


def test_more_than_200_readings_are_too_many() -> None:
    slug, error = only_error(lambda body: body.update(readings=body["readings"][:1] * 201))
    assert (slug, error.pointer) == ("too-many-readings", "#/readings")
    assert "201" in error.detail
    assert "200" in error.hint


def test_200_readings_are_not_too_many() -> None:
    body = {**SAMPLE, "readings": SAMPLE["readings"][:1] * 200}
    assert len(reader_of(SolutionRequest).read(json.dumps(body).encode()).readings) == 200


def test_an_unknown_field_is_pointed_at_itself_and_the_nearest_name_put_forward() -> None:
    slug, error = only_error(lambda body: body["vehicle"]["axles"][1].update(distnace="1"))
    assert (slug, error.pointer) == ("unknown-field", "#/vehicle/axles/1/distnace")
    assert error.hint == "Did you mean `distance`?"


def test_an_unknown_field_like_none_that_is_known_lists_those() -> None:
    _, error = only_error(lambda body: body["conditions"].update(zzz=True))
    assert "`rolled_straight`" in error.hint


def test_a_strange_name_is_escaped_in_its_pointer() -> None:
    """RFC 6901: `~` is ~0, `/` is ~1, and what a URI fragment cannot hold is percent-encoded."""
    _, error = only_error(lambda body: body.update({"a/b~c d%é": 1}))
    assert error.pointer == "#/a~1b~0c%20d%25%C3%A9"


def test_a_value_that_is_none_of_several_lists_them() -> None:
    slug, error = only_error(lambda body: body["vehicle"]["axles"][0].update(role="Steer"))
    assert (slug, error.pointer) == ("contract-broken", "#/vehicle/axles/0/role")
    assert error.hint.startswith('Did you mean "steer"?')
    assert '"pusher"' in error.hint


def test_a_number_for_one_of_several_texts_lists_them_once() -> None:
    _, error = only_error(lambda body: body.update(length_unit=5))
    assert '"in", "mm", "cm"' in error.hint


BOUNDS = [(0, "at least 1"), (13, "at most 12"), (10**30, "at most 12"), (-1, "at least 1")]


@pytest.mark.parametrize(("number", "bound"), BOUNDS)
def test_a_number_out_of_bounds_is_told_the_bound(number: int, bound: str) -> None:
    _, error = only_error(lambda body: body["readings"][0].update(axle=number))
    assert bound in error.detail
    assert "1 to 12" in error.hint


def test_a_text_that_is_too_long_is_told_how_long_it_may_be() -> None:
    _, error = only_error(lambda body: body["readings"][0].update(left="1" * 41))
    assert (error.detail, error.hint) == ("There are 41 characters.", "Give at most 40.")


def test_an_empty_text_is_unreadable_and_gets_an_example() -> None:
    slug, error = only_error(lambda body: body["readings"][0].update(left=""))
    assert slug == "unreadable-text"
    assert "31 3/4" in error.hint


def test_a_missing_field_is_pointed_at_where_it_belongs() -> None:
    slug, error = only_error(lambda body: body.pop("vehicle"))
    assert (slug, error.pointer) == ("contract-broken", "#/vehicle")
    assert error.hint == "Give `vehicle`, an object."


def test_a_missing_field_of_which_there_are_several_values_lists_them() -> None:
    _, error = only_error(lambda body: body.pop("length_unit"))
    assert error.hint == 'Give `length_unit`, one of "in", "mm", "cm".'


def test_a_reading_that_is_no_object_is_told_once() -> None:
    _, error = only_error(lambda body: body["readings"].append("3 5/16"))
    assert error.pointer == "#/readings/6"


def test_a_fault_behind_or_null_is_its_own() -> None:
    _, error = only_error(lambda body: body["conditions"].update(rolled_straight="yes"))
    assert error.pointer == "#/conditions/rolled_straight"


def break_much(body: dict[str, Any]) -> None:
    body["vehicle"]["axles"][0]["role"] = "Steer"
    body["readings"][0]["axle"] = "2"
    body["readings"][1].pop("right")
    body["readings"][2]["kind"] = "gap"
    body["fraction"] = 1
    body["lenght_unit"] = "in"


def test_every_broken_rule_is_named_in_the_order_of_the_body() -> None:
    assert [error.pointer for error in problem_of(break_much).errors] == [
        "#/vehicle/axles/0/role",
        "#/readings/0/axle",
        "#/readings/1/right",
        "#/readings/2/kind",
        "#/fraction",
        "#/lenght_unit",
    ]


def test_the_problem_is_of_the_kind_of_its_first_error_and_each_error_keeps_its_own() -> None:
    problem = problem_of(break_much)
    assert problem.kind.type == problem.errors[0].type == "/problems/contract-broken"
    assert {error.type for error in problem.errors} == {
        "/problems/contract-broken",
        "/problems/incomplete-pair",
        "/problems/unknown-reading-kind",
        "/problems/unknown-field",
    }


def test_no_error_comes_without_a_hint() -> None:
    assert all(error.hint and error.detail for error in problem_of(break_much).errors)


def test_a_long_value_is_cut_in_the_words_about_it() -> None:
    _, error = only_error(lambda body: body.update(length_unit="x" * 10_000))
    assert len(error.detail) < 200


def test_a_body_that_breaks_thousands_of_rules_is_told_the_first_hundred() -> None:
    problem = problem_of(lambda body: body.update(readings=[1] * 50_000))
    assert len(problem.problem("urn:uuid:x").errors) == MAX_ERRORS
    assert problem.kind.slug == "too-many-readings"
    assert "50000" in problem.errors[0].detail
