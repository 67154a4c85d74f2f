"""A yard: a simulated vehicle, how its axles can be moved, what it is judged by, and the answer.

Every number is invented. The answer is asked for as a client asks: texts in, a solution out.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import msgspec
from simulator import Item, Reading, Vehicle, angle_text, length_text, read_all, request, stated

from service.contract.answer import answer
from service.contract.solution import Solution, SolutionRequest

LATERAL, LONGITUDINAL, TIE_ROD, WEDGE = "lateral", "longitudinal", "tie_rod", "wedge"
BOTH, LEFT_END, RIGHT_END = "both_ends", "left_end", "right_end"
PIN_AHEAD = 0.6
"""How far ahead of its axle the simulator has a spring pin where an item doesn't say."""

MIRRORED = {"left": "right", "right": "left", LEFT_END: RIGHT_END, RIGHT_END: LEFT_END, BOTH: BOTH}


@dataclass(slots=True)
class Adjuster:
    """How an axle can be moved: metres; of a wedge radians, of a tie rod turns of its tube."""

    kind: str
    ends: str = BOTH
    spread: float | None = None
    increment: float | None = None
    travel: float | None = None
    pitch: float | None = None
    arm: float | None = None
    threads: str = "both_hands"

    def texts(self, unit: str) -> dict[str, Any]:
        """The adjuster as a request describes it."""
        row: dict[str, Any] = {"kind": self.kind, "ends": self.ends, "threads": self.threads}
        for name, value in (
            ("spread", self.spread),
            ("thread_pitch", self.pitch),
            ("arm_length", self.arm),
        ):
            if value is not None:
                row[name] = length_text(value, unit)
        for name, value in (("increment", self.increment), ("travel", self.travel)):
            if value is not None:
                row[name] = self._amount_text(value, unit)
        return row

    def _amount_text(self, value: float, unit: str) -> str:
        if self.kind == WEDGE:
            return angle_text(value)
        return f"{value:.15f}" if self.kind == TIE_ROD else length_text(value, unit)


@dataclass(slots=True)
class Job:
    """A vehicle as it stands, what is read on it, how it can be moved, what it is judged by.

    `adjusters` by axle number; an axle left out describes nothing. `rows` are target rows as the
    request writes them, or the name of a built-in set.
    """

    vehicle: Vehicle
    items: list[Item]
    rows: list[dict[str, Any]] | str
    adjusters: dict[int, list[Adjuster]] = field(default_factory=dict)
    rule: str = "guarded"
    plan_to: str = "limits"
    unit: str = "mm"
    extra: dict[str, Any] = field(default_factory=dict)

    def readings(self) -> list[Reading]:
        """What is read on the vehicle as it stands, exactly, each with its own uncertainty."""
        return [stated(reading) for reading in read_all(self.vehicle, self.items)]

    def stood(self, vehicle: Vehicle) -> "Job":
        """The same job on the vehicle as it stands later.

        Spring pins stay on the frame while an axle moves; a truck's distances count anew from
        where its first axle now is.
        """
        items = []
        for item in self.items:
            pin = {}
            if item["kind"] == "setback_span":
                axle = item["axle"]
                gone = vehicle.axle(axle).distance - self.vehicle.axle(axle).distance
                pin["pin_ahead"] = item.get("pin_ahead", PIN_AHEAD) + gone
            items.append(item | pin)
        start = 0.0 if vehicle.towed else vehicle.axle(1).distance
        axles = [replace(axle, distance=axle.distance - start) for axle in vehicle.axles]
        return replace(self, vehicle=replace(vehicle, axles=axles), items=items)


SOUND = {"rolled_straight": True, "stopped_gently": True, "wheels_on_ground": True}


def body(job: Job, readings: Sequence[Reading] | None = None) -> dict[str, Any]:
    """The job as the body of a request."""
    taken = job.readings() if readings is None else list(readings)
    made = request(job.vehicle, taken, job.unit, conditions=SOUND, plan_to=job.plan_to)
    if isinstance(job.rows, str):
        made["target_set"] = job.rows
    else:
        made["targets"] = {"rows": job.rows, "decision_rule": job.rule}
    for row in made["vehicle"]["axles"]:
        if row["number"] in job.adjusters:
            row["adjusters"] = [a.texts(job.unit) for a in job.adjusters[row["number"]]]
    return made | job.extra


def solved(made: dict[str, Any]) -> Solution:
    """The solution of a request's body."""
    return answer(msgspec.json.decode(msgspec.json.encode(made), type=SolutionRequest))


def solution(job: Job) -> Solution:
    """The solution of a job."""
    return solved(body(job))


def row(quantity: str, half: float, nominal: float = 0.0, **more: Any) -> dict[str, Any]:
    """A target row: nominal, give or take half a width, in mm or degrees."""
    unit = more.pop("unit", "mm" if quantity in LENGTHS else "deg")
    return {
        "quantity": quantity,
        "unit": unit,
        "nominal": f"{nominal:.12f}",
        "lower": f"{nominal - half:.12f}",
        "upper": f"{nominal + half:.12f}",
        **more,
    }


LENGTHS = frozenset(
    {
        "offset",
        "offset_difference",
        "thrust_difference",
        "toe_length",
        "setback",
        "kingpin_difference",
        "span_difference",
    }
)
