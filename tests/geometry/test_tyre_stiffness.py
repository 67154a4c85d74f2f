"""Cornering stiffness from load."""

from math import radians

import pytest

from service.geometry.tyre_stiffness import (
    BIAS_PER_DEGREE,
    POUND_FORCE,
    RADIAL_PER_DEGREE,
    STANDARD_GRAVITY,
    stiffness_of_load,
    usual_loads,
)


def test_one_degree_of_slip_pushes_with_the_stated_share_of_the_load() -> None:
    assert stiffness_of_load(50_000.0) * radians(1.0) == pytest.approx(7_500.0)
    assert stiffness_of_load(50_000.0, BIAS_PER_DEGREE) * radians(1.0) == pytest.approx(6_000.0)


def test_the_default_lies_in_the_published_range_of_radial_tyres() -> None:
    """Gillespie, second hand: about 15 %, 11 to 19 %; heavy-truck radials 14 to 19 % (memory)."""
    assert 0.14 <= RADIAL_PER_DEGREE <= 0.19


def test_a_rated_truck_tyre_comes_out_near_the_remembered_800_pounds_a_degree() -> None:
    """700 to 900 lb per degree for an 11R22.5 at 5 000 to 6 000 lb (from memory)."""
    per_degree = stiffness_of_load(5_500 * POUND_FORCE) * radians(1.0) / POUND_FORCE
    assert 700 <= per_degree <= 900


def test_a_kilogram_weighs_what_pint_says() -> None:
    pint = pytest.importorskip("pint")
    units = pint.UnitRegistry()
    assert units.Quantity(1.0, "kilogram_force").to("newton").magnitude == pytest.approx(
        STANDARD_GRAVITY, rel=1e-15
    )
    assert units.Quantity(1.0, "pound_force").to("newton").magnitude == pytest.approx(
        POUND_FORCE, rel=1e-15
    )


def test_usual_loads_put_half_a_tandem_on_each_drive_axle() -> None:
    steer, front_drive, rear_drive = usual_loads([True, False, False])
    assert front_drive == rear_drive
    assert front_drive / steer == pytest.approx(17 / 12)


def test_a_lone_axle_carries_more_than_half_a_tandem() -> None:
    assert usual_loads([True, False])[1] / usual_loads([True, False])[0] == pytest.approx(20 / 12)
