"""The rival: the same geometry behind FastAPI and pydantic, for the benchmark alone.

It reads the four kinds of reading of the sample request, in inches, and answers a vehicle that
conforms, byte by byte the same JSON values as the service does; that they are the same is checked
before anything is measured. It has none of the rest: no keys, limits, log lines, metrics, problems
with pointers, plans, other units. So what it does is less, and the comparison is in its favour.
"""

import math

from benchmarks.load.rival import models as wire
from fastapi import FastAPI, HTTPException

from service import __version__
from service.contract.answer_cautions import WORK_SAFELY
from service.geometry import readings as si
from service.geometry.finding_words import (
    QUANTITY_NAMES,
    finding_words,
    limits_words,
    where_words,
)
from service.geometry.findings import Finding, finding_id, judge, judgements_of
from service.geometry.length_text import parse_length
from service.geometry.plausibility import doubts
from service.geometry.residuals import suspects
from service.geometry.solve import Solved, solve
from service.geometry.targets import target_set
from service.geometry.toe_text import parse_toe
from service.geometry.uncertainty import CENTRING, DEFAULT_BY_KIND, REHANG
from service.geometry.vehicle import Axle, Vehicle
from service.geometry.wording import estimate_words, length_words

INCH = 0.0254
DEGREE = math.pi / 180
FRACTION = 32

app = FastAPI()


@app.post("/v1/solutions")
async def solve_vehicle(request: wire.Request) -> wire.Solution:
    """`async`, as no thread is worth its price for so short a sum."""
    vehicle = vehicle_of(request.vehicle)
    readings = [reading_of(one, vehicle) for one in request.readings]
    solved = solve(vehicle, readings)
    targets = target_set(request.target_set)
    todo = judgements_of(solved.pattern, targets, built_in=True)
    found = judge(solved, todo, targets.decision_rule)
    if suspects(solved) or list(doubts(solved)):
        raise HTTPException(501, "the rival answers good readings only")
    if any(one.verdict != "conforming" for one in found):
        raise HTTPException(501, "the rival answers vehicles that conform only")
    estimates = estimates_of(solved)
    return wire.Solution(
        engine=f"axlewright {__version__}",
        length_unit="in",
        target_set=request.target_set,
        axles=axles_of(solved, vehicle, estimates),
        pairs=pairs_of(solved, estimates),
        findings=[finding_of(one, solved, estimates) for one in found],
        running=running_of(solved),
        assumptions=assumptions_of(solved),
        cautions=[wire.Caution(code="work-safely", pointer=None, text=WORK_SAFELY)],
    )


def length(text: str) -> float:
    return parse_length(text, "in")


def vehicle_of(sent: wire.Vehicle) -> Vehicle:
    axles = [
        Axle(
            one.number,
            one.role,
            length(one.distance),
            None if one.width_over_tyres is None else length(one.width_over_tyres),
            None if one.tyre_diameter is None else length(one.tyre_diameter),
        )
        for one in sent.axles
    ]
    return Vehicle(sent.unit, tuple(axles))


def reading_of(sent: wire.Reading, vehicle: Vehicle) -> si.Reading:
    u = DEFAULT_BY_KIND[sent.kind]
    if isinstance(sent, wire.ToeScale):
        _, toe = parse_toe(sent.toe, "in")
        baseline = length(sent.baseline)
        return si.ToeScale(sent.axle, toe / baseline, u / baseline, baseline)
    left, right = length(sent.left), length(sent.right)
    if isinstance(sent, wire.Sightline):
        return si.Sightline(sent.axle, left, right, u, REHANG, vehicle.axles[0].number)
    if isinstance(sent, wire.FrameGap):
        return si.FrameGap(sent.axle, left, right, u)
    return si.SetbackSpan(sent.axle, left, right, length(sent.spread), u)


def clean(value: float) -> float:
    return round(value, 12) + 0.0


def estimates_of(solved: Solved) -> list[wire.Estimate]:
    return [
        wire.Estimate(
            value=clean(value / (INCH if quantity.length else DEGREE)),
            unit="in" if quantity.length else "deg",
            uncertainty=2 * u * (1 / INCH if quantity.length else 180 / math.pi),
            basis="measured" if quantity.measured else "partly_assumed",
            text=estimate_words(quantity.name, value, "in", FRACTION),
        )
        for quantity, value, u in zip(
            solved.pattern.quantities, solved.values, solved.uncertainties, strict=True
        )
    ]


def axles_of(
    solved: Solved, vehicle: Vehicle, estimates: list[wire.Estimate]
) -> list[wire.AxleGeometry]:
    told: dict[int, dict[str, wire.Estimate]] = {axle.number: {} for axle in vehicle.axles}
    for quantity, estimate in zip(solved.pattern.quantities, estimates, strict=True):
        if quantity.reference is None:
            told[quantity.axle][quantity.name] = estimate
        if quantity.baseline is not None:
            metres = solved.numbers[quantity.baseline]
            told[quantity.axle]["toe_baseline"] = wire.Estimate(
                value=clean(metres / INCH),
                unit="in",
                uncertainty=0.0,
                basis="measured",
                text=length_words(metres, "in", FRACTION),
            )
    return [
        wire.AxleGeometry(number=axle.number, role=axle.role, **told[axle.number])
        for axle in vehicle.axles
    ]


def pairs_of(solved: Solved, estimates: list[wire.Estimate]) -> list[wire.Pair]:
    told: dict[tuple[int, int], dict[str, wire.Estimate]] = {p: {} for p in solved.pattern.pairs}
    for quantity, estimate in zip(solved.pattern.quantities, estimates, strict=True):
        if quantity.reference is not None:
            told[quantity.reference, quantity.axle][quantity.name] = estimate
    return [wire.Pair(front=front, rear=rear, **one) for (front, rear), one in told.items()]


def finding_of(found: Finding, solved: Solved, estimates: list[wire.Estimate]) -> wire.Finding:
    quantity, target = solved.pattern.quantities[found.quantity], found.target
    factor = 1 / INCH if quantity.length else 180 / math.pi
    estimate = estimates[found.quantity]
    name = f"{where_words(quantity.axle, quantity.reference)}: {QUANTITY_NAMES[quantity.name]}"
    limits = limits_words(quantity.name, target.lower, target.upper, "in", FRACTION)
    return wire.Finding(
        id=finding_id(quantity),
        quantity=quantity.name,
        axle=quantity.axle,
        reference_axle=quantity.reference,
        estimate=estimate,
        nominal=clean(target.nominal * factor),
        lower=None if target.lower is None else clean(target.lower * factor),
        upper=None if target.upper is None else clean(target.upper * factor),
        verdict=found.verdict,
        probability=found.probability,
        source=target.source,
        text=finding_words(name, estimate.text, found.verdict, limits, found.probability),
    )


def running_of(solved: Solved) -> wire.Running:
    run = solved.run
    basis = "partly_assumed" if solved.pattern.assumed else "measured"

    def aim(value: float, u: float) -> wire.Estimate:
        return wire.Estimate(
            value=clean(value * (180 / math.pi)),
            unit="deg",
            uncertainty=2 * (180 / math.pi) * u,
            basis=basis,
            text=estimate_words("thrust", value, "in", FRACTION),
        )

    steer = aim(run.turn, run.turn_u)
    side = "right" if steer.value > 0 else "left"
    size = steer.text.partition(" ")[0]
    return wire.Running(
        crab=aim(run.crab, run.crab_u),
        steer=steer,
        steering_wheel=None,
        hold=wire.Hold(side=side, text=f"The driver holds the front wheels {size} to the {side}."),
        axles=[
            wire.AxleRun(
                number=axle[0],
                slip_deg=slip * (180 / math.pi),
                sideways_ft_per_mile=sine * 5280,
                sideways_m_per_km=sine * 1000,
            )
            for axle, slip, sine in zip(
                solved.pattern.shape.axles, run.slips, run.sines, strict=True
            )
        ],
    )


def assumptions_of(solved: Solved) -> list[wire.Assumption]:
    size = estimate_words("offset", CENTRING, "in", FRACTION).removesuffix(" right")
    found = []
    for assumed in solved.pattern.assumed:
        number = solved.pattern.shape.axles[assumed.axle][0]
        text = (
            f"Axle {number} was not taped to the frame and is taken as centred, give or take "
            f"{size} (standard uncertainty). Tape it to make the result surer."
        )
        found.append(
            wire.Assumption(
                id=f"centred-{number}",
                axle=number,
                quantity="offset",
                value=0.0,
                unit="in",
                standard_uncertainty=clean(CENTRING / INCH),
                text=text,
            )
        )
    return found
