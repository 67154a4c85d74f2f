"""How target rows are checked, chosen for an axle and restated."""

import math

import pytest

from service.contract.target_sets import Quantity
from service.geometry.angle_text import parse_angle
from service.geometry.length_text import parse_length
from service.geometry.targets import (
    ANGLE_QUANTITIES,
    LENGTH_QUANTITIES,
    PAIR_QUANTITIES,
    Target,
    TargetError,
    TargetSet,
    UnknownTargetSetError,
    applies,
    checked,
    dimension_of,
    over_baseline,
    target_set,
    target_sets,
)

ALL_ROWS = [
    pytest.param(a_set, row, id=f"{a_set.id}-{index}-{row.quantity}")
    for a_set in target_sets()
    for index, row in enumerate(a_set.rows)
]
ROLES = {"steer", "drive", "tag", "pusher", "trailer", "dolly"}
# An invented row that nothing is wrong with.
GOOD = Target("thrust", "angle", 0.0, -0.001, 0.002)


def rows_for(set_id: str, role: str, number: int) -> list[Target]:
    """The rows of a built-in set that speak of one axle."""
    return [row for row in target_set(set_id).rows if applies(row, role, number)]


def refusal(target: Target) -> TargetError:
    with pytest.raises(TargetError) as caught:
        checked(target)
    assert caught.value.reason
    assert caught.value.hint
    return caught.value


def test_a_good_row_passes_unchanged() -> None:
    assert checked(GOOD) is GOOD


def test_limits_may_be_open_and_may_meet() -> None:
    for limits in [(None, None), (-1.0, None), (None, 1.0), (0.0, 0.0)]:
        assert checked(GOOD._replace(lower=limits[0], upper=limits[1]))


def test_a_lower_limit_above_the_upper_is_refused() -> None:
    error = refusal(GOOD._replace(lower=0.002, upper=-0.001))
    assert error.field == "lower"
    assert "above the upper" in str(error)


@pytest.mark.parametrize("field", ["nominal", "lower", "upper", "baseline"])
@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_refused_by_name(field: str, number: float) -> None:
    assert refusal(GOOD._replace(**{field: number})).field == field


@pytest.mark.parametrize("nominal", [-0.0011, 0.0021])
def test_a_nominal_outside_its_own_limits_is_refused(nominal: float) -> None:
    assert refusal(GOOD._replace(nominal=nominal)).field == "nominal"


def test_a_quantity_nobody_knows_is_refused() -> None:
    assert refusal(GOOD._replace(quantity="wobble")).field == "quantity"


def test_an_angle_in_a_unit_of_length_is_refused_with_its_length_twin() -> None:
    error = refusal(GOOD._replace(quantity="toe", dimension="length"))
    assert error.field == "unit"
    assert "deg" in str(error)
    assert "toe_length" in str(error)


def test_a_length_in_a_unit_of_angle_is_refused_with_its_angle_twin() -> None:
    error = refusal(GOOD._replace(quantity="setback", dimension="angle"))
    assert error.field == "unit"
    assert "mm" in str(error)
    assert "skew" in str(error)


def test_a_baseline_is_for_a_toe_in_length_only_and_longer_than_nothing() -> None:
    toe = Target("toe_length", "length", 0.0016, 0.0008, 0.0024, baseline=1.02)
    assert checked(toe)
    assert refusal(toe._replace(baseline=0.0)).field == "baseline"
    assert refusal(GOOD._replace(baseline=1.02)).field == "baseline"


def test_every_quantity_of_the_wire_is_either_a_length_or_an_angle() -> None:
    names = {quantity.value for quantity in Quantity}
    assert names == LENGTH_QUANTITIES | ANGLE_QUANTITIES
    assert not LENGTH_QUANTITIES & ANGLE_QUANTITIES
    assert names > PAIR_QUANTITIES
    assert dimension_of("toe") == "angle"
    assert dimension_of("toe_length") == "length"


@pytest.mark.parametrize(
    ("roles", "axles", "spoken_of"),
    [
        ((), (), {("steer", 1), ("drive", 2), ("drive", 3)}),
        (("drive",), (), {("drive", 2), ("drive", 3)}),
        ((), (1, 3), {("steer", 1), ("drive", 3)}),
        (("drive", "tag"), (1, 3), {("drive", 3)}),
        (("trailer",), (), set()),
    ],
)
def test_a_row_speaks_of_the_axles_that_its_roles_and_numbers_both_admit(
    roles: tuple[str, ...], axles: tuple[int, ...], spoken_of: set[tuple[str, int]]
) -> None:
    row = GOOD._replace(roles=roles, axles=axles)
    truck = [("steer", 1), ("drive", 2), ("drive", 3)]
    assert {axle for axle in truck if applies(row, *axle)} == spoken_of


def test_the_rows_for_an_axle_keep_the_order_of_the_set() -> None:
    quantities = [row.quantity for row in rows_for("truck-published", "drive", 2)]
    assert quantities == ["thrust", "scrub", "offset"]


def test_the_squareness_to_the_kingpin_is_asked_of_the_lead_axle_only() -> None:
    lead = {row.quantity for row in rows_for("trailer-published", "trailer", 1)}
    second = {row.quantity for row in rows_for("trailer-published", "trailer", 2)}
    assert lead - second == {"kingpin_difference"}


@pytest.mark.parametrize("name", [a_set.id for a_set in target_sets()])
@pytest.mark.parametrize("role", sorted(ROLES))
@pytest.mark.parametrize("number", [1, 2, 12])
def test_no_axle_gets_two_rows_for_one_quantity(name: str, role: str, number: int) -> None:
    quantities = [row.quantity for row in rows_for(name, role, number)]
    assert len(quantities) == len(set(quantities))


def test_an_unknown_set_is_refused_with_the_names_there_are() -> None:
    with pytest.raises(UnknownTargetSetError, match="common-practice, trailer-published"):
        target_set("Truck-Published")


@pytest.mark.parametrize(("a_set", "row"), ALL_ROWS)
def test_every_built_in_row_is_whole_and_names_its_source(a_set: TargetSet, row: Target) -> None:
    assert checked(row) is row
    assert 10 <= len(row.source) <= 300
    assert set(row.roles) <= ROLES
    assert row.lower is not None
    assert row.upper is not None
    assert a_set.decision_rule in {"guarded", "simple"}


@pytest.mark.parametrize(("a_set", "row"), ALL_ROWS)
def test_a_built_in_rows_texts_read_at_the_door_as_the_numbers_it_judges_by(
    a_set: TargetSet, row: Target
) -> None:
    printed = row.printed
    texts = (printed.nominal, printed.lower, printed.upper)
    if row.dimension == "length":
        read = [parse_length(text, printed.unit) for text in texts]
        assert [row.nominal, row.lower, row.upper] == read
    else:
        assert printed.unit == "deg"
        read = [parse_angle(text) for text in texts]
        assert [row.nominal, row.lower, row.upper] == pytest.approx(read, rel=1e-15, abs=0.0)


def test_a_toe_restated_over_another_baseline_is_the_same_toe() -> None:
    row = Target("toe_length", "length", 0.0016, 0.0008, None, baseline=1.0)
    longer = over_baseline(row, 1.25)
    assert longer.nominal / longer.baseline == pytest.approx(0.0016, rel=1e-15)
    assert longer.lower / longer.baseline == pytest.approx(0.0008, rel=1e-15)
    assert longer.upper is None
    assert over_baseline(longer, 1.0).nominal == pytest.approx(row.nominal, rel=1e-15)


def test_a_toe_row_without_a_baseline_takes_the_axles_own_unscaled() -> None:
    (row,) = [r for r in target_set("common-practice").rows if r.quantity == "toe_length"]
    assert row.baseline is None
    assert over_baseline(row, 1.02)[2:5] == row[2:5]
