"""What straight running says, and which vehicles it refuses. Every vehicle here is invented."""

from math import degrees, radians, sin

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.geometry.running import (
    LEVEL,
    Road,
    equivalent_wheelbase,
    hold,
    straight_running,
    unknown_thrust,
)
from service.geometry.stance import RunningAxle, RunningError, stance_of

AIM = st.floats(-0.02, 0.02)
STIFF = st.floats(1e5, 1e6)
GAP = st.floats(0.5, 8.0)


@st.composite
def trucks(draw: st.DrawFn) -> list[RunningAxle]:
    """Two to seven axles, the first one or two of them steered, perhaps the last one too."""
    count = draw(st.integers(2, 7))
    steered_front = draw(st.integers(1, min(2, count - 1)))
    tail = count > steered_front + 1 and draw(st.booleans())
    axles, distance = [], 0.0
    for i in range(count):
        rear_steer = tail and i == count - 1
        ratio = 1.0 if i == 0 else -0.3 if rear_steer else 0.8
        axles.append(
            RunningAxle(
                i + 1, distance, draw(AIM), draw(STIFF), i < steered_front or rear_steer, ratio
            )
        )
        distance += draw(GAP)
    # Two heavy steered axles far back hardly turn a vehicle: nothing there is exact.
    reach = sum(axle.stiffness * axle.distance for axle in axles)
    assume(stance_of(axles, None).steered_moment < -0.05 * reach)
    return axles


@st.composite
def trailers(draw: st.DrawFn) -> list[RunningAxle]:
    """One to four axles, none steered, behind a kingpin."""
    axles, distance = [], draw(st.floats(1.0, 12.0))
    for i in range(draw(st.integers(1, 4))):
        axles.append(RunningAxle(i + 1, distance, draw(AIM), draw(STIFF)))
        distance += draw(GAP)
    return axles


ROADS = st.builds(
    Road,
    cross_slope=st.floats(-0.06, 0.06),
    weight=st.floats(0.0, 4e5),
    centre_of_gravity=st.floats(0.0, 8.0),
    speed=st.floats(1.0, 30.0),
)


def mirrored(axles: list[RunningAxle]) -> list[RunningAxle]:
    """The same vehicle seen in a mirror."""
    return [axle._replace(thrust=-axle.thrust) for axle in axles]


def loads(axles: list[RunningAxle], road: Road) -> tuple[float, float]:
    """Side force and moment about the front that the cross-slope adds, right positive."""
    force = road.weight * sin(road.cross_slope)
    return force, force * road.centre_of_gravity


@settings(deadline=None)
@given(trucks(), ROADS)
def test_side_forces_and_yaw_moments_of_a_truck_are_nought(
    axles: list[RunningAxle], road: Road
) -> None:
    running = straight_running(axles, road=road)
    force, moment = loads(axles, road)
    pushes = [
        (run.side_force, axle.distance) for run, axle in zip(running.axles, axles, strict=True)
    ]
    size = abs(force) + sum(abs(push) for push, _ in pushes) + 1.0
    assert force + sum(push for push, _ in pushes) == pytest.approx(0.0, abs=1e-9 * size)
    levers = moment + sum(push * distance for push, distance in pushes)
    assert levers == pytest.approx(0.0, abs=1e-8 * size)


@settings(deadline=None)
@given(trailers(), ROADS)
def test_side_forces_and_yaw_moments_of_a_trailer_are_nought_with_the_pin(
    axles: list[RunningAxle], road: Road
) -> None:
    running = straight_running(axles, hitch=0.0, road=road)
    force, moment = loads(axles, road)
    pushes = [
        (run.side_force, axle.distance) for run, axle in zip(running.axles, axles, strict=True)
    ]
    size = abs(force) + sum(abs(push) for push, _ in pushes) + 1.0
    assert running.hitch_force is not None
    total = force + running.hitch_force + sum(push for push, _ in pushes)
    assert total == pytest.approx(0.0, abs=1e-9 * size)
    levers = moment + sum(push * distance for push, distance in pushes)
    assert levers == pytest.approx(0.0, abs=1e-8 * size)


@settings(deadline=None)
@given(trucks(), ROADS)
def test_a_mirrored_truck_flips_every_signed_result_and_nothing_else(
    axles: list[RunningAxle], road: Road
) -> None:
    here = straight_running(axles, road=road, steering_ratio=20.0)
    there = straight_running(
        mirrored(axles), road=road._replace(cross_slope=-road.cross_slope), steering_ratio=20.0
    )
    signed = ("crab", "steer", "turn", "steering_wheel")
    assert [getattr(there, name) for name in signed] == [-getattr(here, name) for name in signed]
    unsigned = ("drag_force", "drag_power", "equivalent_wheelbase")
    assert [getattr(there, name) for name in unsigned] == [getattr(here, name) for name in unsigned]
    for left, right in zip(there.axles, here.axles, strict=True):
        assert left.drag_power == right.drag_power
        for name in ("aim", "slip", "side_force", "per_mile", "per_kilometre"):
            assert getattr(left, name) == -getattr(right, name)


@settings(deadline=None)
@given(trailers(), ROADS)
def test_a_mirrored_trailer_pushes_its_pin_the_other_way(
    axles: list[RunningAxle], road: Road
) -> None:
    here = straight_running(axles, hitch=0.0, road=road)
    there = straight_running(
        mirrored(axles), hitch=0.0, road=road._replace(cross_slope=-road.cross_slope)
    )
    assert (there.crab, there.hitch_force) == (-here.crab, -here.hitch_force)


@settings(deadline=None)
@given(trucks(), st.floats(0.01, 100.0))
def test_only_the_ratios_of_the_stiffnesses_matter_for_the_angles(
    axles: list[RunningAxle], factor: float
) -> None:
    here = straight_running(axles)
    scaled = [axle._replace(stiffness=axle.stiffness * factor) for axle in axles]
    there = straight_running(scaled)
    assert there.crab == pytest.approx(here.crab, rel=1e-6, abs=1e-9)
    assert there.steer == pytest.approx(here.steer, rel=1e-6, abs=1e-9)
    assert there.drag_force == pytest.approx(here.drag_force * factor, rel=1e-5, abs=1e-5 * factor)


@settings(deadline=None)
@given(trucks(), st.floats(-20.0, 20.0))
def test_it_does_not_matter_where_distances_are_counted_from(
    axles: list[RunningAxle], shift: float
) -> None:
    moved = [axle._replace(distance=axle.distance + shift) for axle in axles]
    here, there = straight_running(axles), straight_running(moved)
    assert there.crab == pytest.approx(here.crab, abs=1e-9)
    assert there.turn == pytest.approx(here.turn, abs=1e-9)
    assert there.equivalent_wheelbase == pytest.approx(here.equivalent_wheelbase, rel=1e-9)


@settings(deadline=None)
@given(trucks(), AIM)
def test_how_the_steer_axle_stood_when_read_changes_no_angle_on_the_road(
    axles: list[RunningAxle], stood: float
) -> None:
    """Only the turn, and with it the steering wheel, tells where the wheels started from."""
    other = [axles[0]._replace(thrust=stood), *axles[1:]]
    assume(sum(axle.steered for axle in axles) == 1)
    here, there = straight_running(axles), straight_running(other)
    assert there.steer == pytest.approx(here.steer, abs=1e-10)
    assert there.crab == pytest.approx(here.crab, abs=1e-10)
    assert there.turn == pytest.approx(here.steer - stood, abs=1e-10)


def tractor(*thrusts: float | None) -> list[RunningAxle]:
    """A tractor; thrusts in degrees of its axles 1, 2 and 3."""
    places = ((0.0, True, 5e5), (4.2, False, 9e5), (5.5, False, 9e5))
    return [
        RunningAxle(i + 1, place, None if thrust is None else radians(thrust), stiffness, steered)
        for i, ((place, steered, stiffness), thrust) in enumerate(zip(places, thrusts, strict=True))
    ]


def trailer(*thrusts: float) -> list[RunningAxle]:
    """A trailer with its axles from 10 m behind the kingpin; thrusts in degrees."""
    return [
        RunningAxle(i + 1, 10.0 + 1.2 * i, radians(thrust), 6e5) for i, thrust in enumerate(thrusts)
    ]


def test_a_straight_vehicle_on_a_level_road_does_nothing() -> None:
    running = straight_running(tractor(0.0, 0.0, 0.0), road=Road(speed=25.0), steering_ratio=20.0)
    assert (running.crab, running.steer, running.steering_wheel) == (0.0, 0.0, 0.0)
    assert running.drag_power == 0.0
    assert hold(running) == "none"


def test_drive_axles_that_aim_right_turn_the_nose_left_and_the_wheel_right() -> None:
    """Geometry against the rule heard in the trade that the truck pulls the way the drives aim."""
    running = straight_running(tractor(0.0, 0.1, 0.1), steering_ratio=20.0)
    assert degrees(running.crab) == pytest.approx(-0.1)
    assert running.steer == pytest.approx(radians(0.1))
    assert running.steering_wheel == pytest.approx(radians(2.0))
    assert hold(running) == "right"


def test_a_steering_ratio_is_not_needed_to_know_the_side() -> None:
    assert hold(straight_running(tractor(0.0, -0.1, -0.1))) == "left"


def test_a_hold_below_half_a_tenth_of_a_degree_is_none() -> None:
    assert hold(straight_running(tractor(0.0, 0.002, 0.002), steering_ratio=20.0)) == "none"
    assert hold(straight_running(tractor(0.0, 0.003, 0.003), steering_ratio=20.0)) == "right"


def test_a_towed_vehicle_has_no_steer_and_nobody_to_hold_it() -> None:
    running = straight_running(trailer(0.1, 0.1), hitch=0.0, steering_ratio=20.0)
    assert (running.steer, running.turn, running.steering_wheel) == (None, None, None)
    assert running.equivalent_wheelbase is None
    assert hold(running) == "none"


def test_a_trailer_whose_axles_agree_follows_askew_and_leaves_its_pin_in_peace() -> None:
    running = straight_running(trailer(0.1, 0.1, 0.1), hitch=0.0)
    assert degrees(running.crab) == pytest.approx(-0.1)
    assert running.hitch_force == pytest.approx(0.0, abs=1e-9)
    assert running.axles[0].per_mile == pytest.approx(0.0, abs=1e-9)


def test_a_trailer_whose_axles_disagree_pulls_at_its_pin() -> None:
    """Front axle aims right, rear axle left: the pair turns right, the pin holds it to the left."""
    running = straight_running(trailer(0.1, -0.1), hitch=0.0)
    assert running.hitch_force is not None
    assert running.hitch_force < 0.0


def test_on_a_road_that_falls_to_the_right_every_tyre_pushes_left() -> None:
    """Stiffness in proportion to load and weight on the axles: one slip for all, no steer."""
    load = [5e4, 8e4, 8e4]
    axles = [
        axle._replace(stiffness=8.0 * weight)
        for axle, weight in zip(tractor(0.0, 0.0, 0.0), load, strict=True)
    ]
    centre = sum(w * axle.distance for w, axle in zip(load, axles, strict=True)) / sum(load)
    running = straight_running(axles, road=Road(0.02, sum(load), centre))
    slip = -sin(0.02) / 8.0
    assert [run.slip for run in running.axles] == pytest.approx([slip] * 3)
    assert running.crab == pytest.approx(slip)
    assert running.steer == pytest.approx(0.0, abs=1e-12)


def test_drag_power_is_drag_times_speed() -> None:
    running = straight_running(tractor(0.0, 0.2, -0.1), road=Road(speed=25.0))
    assert running.drag_power == pytest.approx(25.0 * running.drag_force)
    assert sum(run.drag_power for run in running.axles) == pytest.approx(running.drag_power)


def test_without_a_speed_there_is_no_power() -> None:
    running = straight_running(tractor(0.0, 0.2, -0.1), road=LEVEL)
    assert running.drag_power is None
    assert running.axles[0].drag_power is None


def test_twin_steer_axles_out_of_step_fight_each_other() -> None:
    axles = [
        RunningAxle(1, 0.0, 0.0, 5e5, True),
        RunningAxle(2, 1.8, radians(0.1), 5e5, True),
        RunningAxle(3, 6.0, 0.0, 9e5),
    ]
    running = straight_running(axles)
    assert running.axles[0].side_force < 0.0 < running.axles[1].side_force


def test_an_axle_without_stiffness_takes_no_part() -> None:
    """A free-castering tag axle follows the path whatever it reads."""
    tag = RunningAxle(4, 7.0, radians(1.0), 0.0)
    with_tag = straight_running([*tractor(0.0, 0.2, -0.1), tag])
    without = straight_running(tractor(0.0, 0.2, -0.1))
    assert with_tag.crab == without.crab
    assert with_tag.axles[3].side_force == 0.0


def test_an_unknown_thrust_gives_no_answer_but_the_reason() -> None:
    assert unknown_thrust(tractor(0.0, 0.1, None)) == 3
    with pytest.raises(RunningError, match="the thrust of axle 3 is not known"):
        straight_running(tractor(0.0, 0.1, None))
    with pytest.raises(RunningError) as refusal:
        straight_running(tractor(0.0, None, 0.0))
    assert refusal.value.axle == 2


def test_the_first_steered_axle_needs_no_thrust_because_the_driver_aims_it() -> None:
    running = straight_running(tractor(None, 0.1, 0.1))
    assert running == straight_running(tractor(0.0, 0.1, 0.1))


def test_a_second_steered_axle_does_need_its_thrust() -> None:
    axles = [
        RunningAxle(1, 0.0, None, 5e5, True),
        RunningAxle(2, 1.8, None, 5e5, True),
        RunningAxle(3, 6.0, 0.0, 9e5),
    ]
    assert unknown_thrust(axles) == 2


def steered(number: int, distance: float, stiffness: float = 5e5) -> RunningAxle:
    """A steered axle that stands straight."""
    return RunningAxle(number, distance, 0.0, stiffness, True)


def fixed(number: int, distance: float, stiffness: float = 9e5) -> RunningAxle:
    """An axle that does not steer and stands straight."""
    return RunningAxle(number, distance, 0.0, stiffness)


@pytest.mark.parametrize(
    ("axles", "hitch", "says", "at"),
    [
        ([], None, "there is no axle", None),
        ([fixed(1, 0.0), fixed(2, 4.0)], None, "no axle steers", None),
        ([steered(1, 0.0), fixed(2, 4.0)], 0.0, "axle 1 steers and there is a kingpin", 1),
        ([steered(1, 0.0, 0.0), fixed(2, 4.0, 0.0)], None, "every cornering stiffness is 0", None),
        ([steered(1, 0.0), fixed(2, 4.0, -1.0)], None, "never negative", 2),
        ([steered(1, 0.0), fixed(2, 4.0), fixed(3, 4.0)], None, "axles 2 and 3 stand in one", 3),
        ([steered(1, 0.0), fixed(2, 0.0)], None, "axles 1 and 2 stand in one place", 2),
        ([steered(1, 0.0)], None, "does not turn the vehicle", None),
        ([steered(1, 0.0, 0.0), fixed(2, 4.0)], None, "does not turn the vehicle", None),
        ([steered(1, 0.0), steered(2, 4.0)], None, "does not turn the vehicle", None),
        ([fixed(1, 0.0)], 0.0, "stand at the kingpin", None),
        ([fixed(1, -1.0), fixed(2, 1.0)], 0.0, "stand at the kingpin", None),
        ([steered(1, 0.0)._replace(steer_ratio=2.0), fixed(2, 4.0)], None, "steer ratio 1", 1),
    ],
)
def test_vehicles_without_an_answer_are_told_why(
    axles: list[RunningAxle], hitch: float | None, says: str, at: int | None
) -> None:
    with pytest.raises(RunningError, match=says) as refusal:
        straight_running(axles, hitch=hitch)
    assert refusal.value.axle == at


@pytest.mark.parametrize("stiffness", [1e-3, 1e-90, 1e-300, 5e-324])
@pytest.mark.parametrize("hitch", [None, 0.0])
def test_tyres_that_cannot_hold_the_vehicle_on_a_slope_are_named(
    stiffness: float, hitch: float | None
) -> None:
    axles = [fixed(2, 4.0, stiffness), fixed(3, 5.0, stiffness)]
    if hitch is None:
        axles.insert(0, steered(1, 0.0, stiffness))
    with pytest.raises(RunningError, match=r"far too soft|every cornering stiffness is 0"):
        straight_running(axles, hitch=hitch, road=Road(0.02, 1e5, 2.0))


def test_a_towed_vehicle_has_no_equivalent_wheelbase() -> None:
    with pytest.raises(RunningError, match="no axle steers"):
        equivalent_wheelbase(trailer(0.0, 0.0))
