"""`/v1/vehicles/{id}/history`: each quantity by date and odometer, and how fast it drifts."""

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, NamedTuple

import msgspec
from litestar import get
from litestar.params import QueryParameter

from service.api.access import needs
from service.api.storing import AnyRequest, ThingId, read
from service.contract.estimates import Estimate, EstimateUnit
from service.contract.histories import DriftRate, HistoryPoint, QuantityHistory, VehicleHistory
from service.contract.solution import Solution, Verdict
from service.contract.vehicle import LengthUnit
from service.geometry.drift import Stay, drift, has_moved
from service.store import rounds
from service.store.rounds import DatedRound
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLES

NEWEST = 200
MILE_KM = 1.609344
MILLIMETRES = {EstimateUnit.INCH: 25.4, EstimateUnit.CENTIMETRE: 10.0, EstimateUnit.MILLIMETRE: 1.0}

_SOLUTION = msgspec.json.Decoder(Solution)
_UNIT = QueryParameter(description="Unit of every length in the answer.")

Key = tuple[int, int | None, str]
"""Axle, front axle of a pair, quantity."""


class Seen(NamedTuple):
    """One estimate of one round."""

    round: DatedRound
    value: float
    uncertainty: float
    unit: EstimateUnit
    verdict: Verdict | None


@get("/v1/vehicles/{id:uuid}/history", summary="Read a vehicle's history", **needs("read"))
async def get_vehicle_history(
    request: AnyRequest,
    id: ThingId,
    length_unit: Annotated[LengthUnit, _UNIT] = LengthUnit.INCH,
) -> VehicleHistory:
    """Every quantity over the visits, its drift per 10,000 miles, and what moved since the last.

    Drift is what happens on the road: from the last round of a visit to the first round of the
    next, so that a correction in the shop is not taken for it.
    """

    def work(scope: ShopScope) -> list[DatedRound]:
        VEHICLES.get(scope, id)
        return rounds.of_vehicle(scope, id, NEWEST)

    found = (await read(request, work))[::-1]
    seen = by_quantity(found, EstimateUnit(length_unit.value))
    return VehicleHistory(
        vehicle_id=id,
        length_unit=length_unit,
        quantities=[_history(key, points) for key, points in sorted(seen.items(), key=str)],
        text=what_moved(seen),
    )


def by_quantity(found: Sequence[DatedRound], unit: EstimateUnit) -> dict[Key, list[Seen]]:
    """The estimates of all rounds, oldest first, with lengths in one unit."""
    seen: dict[Key, list[Seen]] = {}
    for one in found:
        solution = _SOLUTION.decode(one.solution)
        verdicts = {
            (finding.axle, finding.reference_axle, finding.quantity.value): finding.verdict
            for finding in solution.findings
        }
        for key, estimate in _estimates(solution):
            factor, shown = _in_unit(estimate.unit, unit)
            point = Seen(
                one,
                estimate.value * factor,
                estimate.uncertainty * factor,
                shown,
                verdicts.get(key),
            )
            seen.setdefault(key, []).append(point)
    return seen


def _estimates(solution: Solution) -> Iterator[tuple[Key, Estimate]]:
    parts: list[tuple[int, int | None, Any]] = [(a.number, None, a) for a in solution.axles]
    parts += [(pair.rear, pair.front, pair) for pair in solution.pairs]
    for axle, front, part in parts:
        for name in part.__struct_fields__:
            value = getattr(part, name)
            if isinstance(value, Estimate) and name != "toe_baseline":
                yield (axle, front, name), value


def _in_unit(unit: EstimateUnit, wanted: EstimateUnit) -> tuple[float, EstimateUnit]:
    if unit not in MILLIMETRES:
        return 1.0, unit
    return MILLIMETRES[unit] / MILLIMETRES[wanted], wanted


def _history(key: Key, seen: list[Seen]) -> QuantityHistory:
    return QuantityHistory(
        axle=key[0],
        reference_axle=key[1],
        quantity=key[2],
        unit=seen[-1].unit,
        points=[_point(one) for one in seen],
        drift=_drift(seen),
    )


def _point(one: Seen) -> HistoryPoint:
    return HistoryPoint(
        visit_id=one.round.visit_id,
        round_id=one.round.id,
        label=one.round.label,
        visited_at=one.round.visited_at,
        odometer_miles=miles(one.round),
        value=one.value,
        uncertainty=one.uncertainty,
        verdict=one.verdict,
    )


def miles(one: DatedRound) -> float | None:
    """The odometer in miles, if it was read."""
    if one.odometer is None:
        return None
    return one.odometer / MILE_KM if one.odometer_unit == "km" else float(one.odometer)


def _stays(seen: list[Seen]) -> list[tuple[Seen, Stay]]:
    """The visits in which the quantity was found, each with its first round."""
    visits: dict[Any, list[Seen]] = {}
    for one in seen:
        visits.setdefault(one.round.visit_id, []).append(one)
    return [
        (
            of_visit[0],
            Stay(
                distance=miles(of_visit[0].round) or 0.0,
                arrival=of_visit[0].value,
                arrival_uncertainty=of_visit[0].uncertainty / 2,
                leaving=of_visit[-1].value,
                leaving_uncertainty=of_visit[-1].uncertainty / 2,
            ),
        )
        for of_visit in visits.values()
    ]


def _drift(seen: list[Seen]) -> DriftRate | None:
    known = [stay for one, stay in _stays(seen) if miles(one.round) is not None]
    found = drift(known)
    if found is None:
        return None
    return DriftRate(
        per_10000_miles=found.rate * 1e4,
        lower=(found.rate - found.expanded) * 1e4,
        upper=(found.rate + found.expanded) * 1e4,
        intervals=found.intervals,
    )


def what_moved(seen: dict[Key, list[Seen]]) -> str:
    """What moved since the visit before, in words: only what is beyond its uncertainty."""
    moved, before = [], None
    for key, points in sorted(seen.items(), key=str):
        stays = _stays(points)
        if len(stays) < 2:
            continue
        (first, one), (_, other) = stays[-2:]
        before = first.round.visited_at
        if has_moved(one, other):
            moved.append(_told(key, points[-1].unit, other.arrival - one.leaving))
    if before is None:
        return "There is no earlier visit to compare with."
    since = f"Since the visit of {before:%Y-%m-%d}"
    if not moved:
        return f"{since} nothing moved by more than its uncertainty."
    return f"{since} these moved: {'; '.join(moved)}."


def _told(key: Key, unit: EstimateUnit, change: float) -> str:
    axle, front, quantity = key
    where = f"axle {axle}" if front is None else f"axles {front} and {axle}"
    return f"{quantity.replace('_', ' ')} of {where} by {change:+.3g} {unit.value}"
