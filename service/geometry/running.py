"""Straight running: how a vehicle with its axles as they stand goes straight down a road.

Every axle that does not aim along the path pulls sideways. The frame takes a crab angle and the
driver a steer angle at which all these forces, and their moments, cancel or carry the weight's
share down a cross-slope. A towed vehicle has no steered axle: there its kingpin or drawbar eye
carries the side force instead. Linear in the angles: tyre side force is stiffness times slip, and
the cosines are 1; against the exact equations the angles are wrong by the cube of the angle, in
radians (some 1e-7 degree at 0.1 degree).

It says nothing of tyre life or fuel: no tested figure links them to these angles.

Signs: all angles clockwise, so right, positive. ISO 8855 counts a steering-wheel angle (7.1.8)
and every heading positive to the left: turn the sign for it. Metres, newtons, radians, watts;
`distance` is rearward positive. No tractor's pull on a trailer, nor the reverse, beyond the side
force at one pin; no aligning torque, no resistance of dual tyres to turning.
"""

from collections.abc import Sequence
from math import radians, sin
from typing import Literal, NamedTuple

from service.geometry.stance import RunningAxle, RunningError, Stance, first_steered, stance_of

MILE = 1609.344
KILOMETRE = 1000.0

WHEEL_HOLD_FREE = radians(0.05)
"""A steering-wheel angle that a display in tenths of a degree writes as 0.0 is no hold."""

STEER_HOLD_FREE = radians(0.005)
"""The same for the front wheels, in hundredths, where the steering ratio is not known."""

_ABSURD = 10.0
"""Radians of crab and turn that no tyre law reaches."""

HoldSide = Literal["left", "right", "none"]


class Road(NamedTuple):
    """What the vehicle runs on and how fast; the default is level and asks for no power.

    `cross_slope`: radians, positive where the road falls to the right. `weight`: newtons, of the
    whole vehicle; it acts at distance `centre_of_gravity`. `speed`: metres per second.
    """

    cross_slope: float = 0.0
    weight: float = 0.0
    centre_of_gravity: float = 0.0
    speed: float | None = None


LEVEL = Road()


class AxleRunning(NamedTuple):
    """What one axle does on the road.

    `aim`: wheels against the frame. `slip`: wheels against the path; the tyres push the vehicle
    the way they aim, so `side_force` has its sign (a slip angle by ISO 8855 has the other one).
    `per_mile`, `per_kilometre`: metres that the tyres are dragged sideways while rolling so far.
    """

    number: int
    aim: float
    slip: float
    side_force: float
    per_mile: float
    per_kilometre: float
    drag_power: float | None


class StraightRunning(NamedTuple):
    """The equilibrium.

    `crab`: heading of the frame against its path. `steer`: first steered axle's wheels against
    the frame; `turn`: the same from where they stand with the steering wheel centred;
    `steering_wheel`: the turn times the steering ratio. `hitch_force`: side force of the towing
    vehicle on the pin. What does not exist, or was not asked for, is None.
    """

    crab: float
    steer: float | None
    turn: float | None
    steering_wheel: float | None
    hitch_force: float | None
    drag_force: float
    drag_power: float | None
    equivalent_wheelbase: float | None
    axles: tuple[AxleRunning, ...]


def straight_running(
    axles: Sequence[RunningAxle],
    *,
    hitch: float | None = None,
    road: Road = LEVEL,
    steering_ratio: float | None = None,
) -> StraightRunning:
    """The angles at which side forces and yaw moments of a vehicle running straight cancel.

    `hitch` is the distance of the kingpin or drawbar eye of a vehicle without steered axle;
    `steering_ratio` is steering-wheel angle over wheel angle.

    Raises RunningError when the axles have no such equilibrium or a thrust is not known.
    """
    lacking = unknown_thrust(axles)
    if lacking is not None:
        raise RunningError(f"the thrust of axle {lacking} is not known", lacking)
    stance = stance_of(axles, hitch)
    side_load = road.weight * sin(road.cross_slope)
    crab, turn = (
        _steered(axles, stance, side_load, road.centre_of_gravity)
        if hitch is None
        else (_towed(axles, hitch, side_load, road.centre_of_gravity), None)
    )
    if not abs(crab) + abs(turn or 0.0) <= _ABSURD:
        raise RunningError("the tyres are far too soft to hold the vehicle")
    runs = tuple([_axle_running(axle, crab, turn or 0.0, road.speed) for axle in axles])
    pushed = drag = 0.0
    for run in runs:
        pushed += run.side_force
        drag += run.side_force * run.slip
    first = first_steered(axles)
    return StraightRunning(
        crab=crab,
        steer=None if turn is None or first is None else (first.thrust or 0.0) + turn,
        turn=turn,
        steering_wheel=None if turn is None or steering_ratio is None else turn * steering_ratio,
        hitch_force=None if hitch is None else -(pushed + side_load),
        drag_force=drag,
        drag_power=None if road.speed is None else drag * road.speed,
        equivalent_wheelbase=None if turn is None else _equivalent_wheelbase(axles, stance),
        axles=runs,
    )


def unknown_thrust(axles: Sequence[RunningAxle]) -> int | None:
    """Number of the first axle whose thrust is needed and None.

    The first steered axle needs none: the driver aims it. Its turn is then counted from its
    wheels standing straight in the frame.
    """
    first = first_steered(axles)
    for axle in axles:
        if axle.thrust is None and axle is not first:
            return axle.number
    return None


def equivalent_wheelbase(axles: Sequence[RunningAxle]) -> float:
    """Wheelbase of the two-axle vehicle that turns alike: steer angle times turn radius, metres.

    At walking speed, for one or more steered axles. For one steered axle and a tandem of half
    spread s it is L + (s^2 / L)(1 + Cr / Cf) (derived; Winkler 1998 and Gillespie and Winkler
    1978 name the effect). Raises RunningError as `straight_running` does.
    """
    return _equivalent_wheelbase(axles, stance_of(axles, None))


def sideways_distance(slip: float, distance: float) -> float:
    """How far a tyre aiming `slip` radians off its path is dragged sideways over `distance`."""
    return distance * sin(slip)


def hold(running: StraightRunning) -> HoldSide:
    """The way the driver keeps the steering wheel, or the wheels where no ratio is known."""
    angle, free = running.steering_wheel, WHEEL_HOLD_FREE
    if angle is None:
        angle, free = running.turn, STEER_HOLD_FREE
    if angle is None or abs(angle) < free:
        return "none"
    return "right" if angle > 0.0 else "left"


def _steered(
    axles: Sequence[RunningAxle], stance: Stance, side_load: float, load_at: float
) -> tuple[float, float | None]:
    force = side_load
    moment = side_load * (load_at - stance.centre)
    for axle, place in zip(axles, stance.places, strict=True):
        push = axle.stiffness * (axle.thrust or 0.0)
        force += push
        moment += push * place
    turn = -moment / stance.steered_moment
    return -(force + stance.steered_stiffness * turn) / stance.stiffness, turn


def _towed(axles: Sequence[RunningAxle], hitch: float, side_load: float, load_at: float) -> float:
    moment = side_load * (load_at - hitch)
    resistance = 0.0
    for axle in axles:
        lever = axle.stiffness * (axle.distance - hitch)
        moment += lever * (axle.thrust or 0.0)
        resistance += lever
    return -moment / resistance


def _axle_running(axle: RunningAxle, crab: float, turn: float, speed: float | None) -> AxleRunning:
    aim = axle.thrust or 0.0
    if axle.steered:
        aim += axle.steer_ratio * turn
    slip = crab + aim
    force = axle.stiffness * slip
    mile, kilometre = sideways_distance(slip, MILE), sideways_distance(slip, KILOMETRE)
    power = None if speed is None else force * slip * speed
    return AxleRunning(axle.number, aim, slip, force, mile, kilometre, power)


def _equivalent_wheelbase(axles: Sequence[RunningAxle], stance: Stance) -> float:
    squares = sum(
        [a.stiffness * place * place for a, place in zip(axles, stance.places, strict=True)]
    )
    return -squares / stance.steered_moment
