"""The weighted solution against scipy.optimize.least_squares (trust region reflective).

The model given to scipy is the simulator itself: it stands a vehicle at the pose tried, reads it
by plane geometry and compares with the noisy readings. No formula of the solver takes part.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import OptimizeResult, least_squares
from simulator import Case, Reading, Vehicle, fleet, jacobian, noisy, read, seeded, stated, unknowns
from simulator.bridge import answers, solved_readings
from simulator.rank import channels, taped

from service.geometry.uncertainty import CENTRING

NEAR = 1e-2
"""A hundredth of the standard uncertainty: what linearising differently can come to."""


def spread_of(reading: Reading) -> float:
    """Standard uncertainty of what a reading says (see `channels`) by that of one side of it."""
    if reading["kind"] == "toe_width":
        return reading["uncertainty"] * 2**0.5  # a difference of two
    if reading["kind"] in ("toe_scale", "wheel_angle"):
        return reading["uncertainty"]
    return reading["uncertainty"] / 2**0.5  # half a difference, or half a sum


class Model:
    """Noisy readings of a case as residuals over the pose of its vehicle."""

    def __init__(self, case: Case, readings: list[Reading]) -> None:
        self.case = case
        self.names = unknowns(case.vehicle)
        self.said = [
            (item, channels(case.vehicle, item, reading), spread_of(reading))
            for item, reading in zip(case.items, readings, strict=True)
        ]
        self.spreads = np.concatenate([[u] * len(said) for _, said, u in self.said])
        self.centred = [
            index
            for index, (name, axle) in enumerate(self.names)
            if name == "offset" and axle not in taped(case.items)
        ]

    def stood(self, pose: np.ndarray) -> Vehicle:
        axles = [replace(axle) for axle in self.case.vehicle.axles]
        for (name, number), value in zip(self.names, pose, strict=True):
            setattr(axles[number - 1], name, float(value))
        return replace(self.case.vehicle, axles=axles)

    def residuals(self, pose: np.ndarray) -> np.ndarray:
        vehicle = self.stood(pose)
        rest = [
            (model - observed) / u
            for item, said, u in self.said
            for model, observed in zip(
                channels(vehicle, item, read(vehicle, item)), said, strict=True
            )
        ]
        return np.array(rest + [pose[index] / CENTRING for index in self.centred])

    def slopes(self, pose: np.ndarray) -> np.ndarray:
        rows = jacobian(self.stood(pose), self.case.items) / self.spreads[:, None]
        return np.vstack([rows, np.eye(len(self.names))[self.centred] / CENTRING])

    def fit(self) -> OptimizeResult:
        start = np.zeros(len(self.names))
        scale = np.full(len(self.names), 1e-3)
        ends = {"xtol": 1e-15, "ftol": 1e-15, "gtol": 1e-12}
        return least_squares(self.residuals, start, jac=self.slopes, x_scale=scale, **ends)


def redundant(case: Case) -> bool:
    """Whether more is read than is unknown."""
    pairs = zip(case.items, case.readings, strict=True)
    rows = sum(len(channels(case.vehicle, i, r)) for i, r in pairs)
    return rows > len(unknowns(case.vehicle))


@pytest.mark.parametrize("unit", ["tractor", "truck", "trailer", "dolly"])
def test_the_weighted_solution_is_scipys(unit: str) -> None:
    dice, compared = seeded(60), 0
    for case in fleet(seeded(61), designs=120, each=1):
        if case.vehicle.unit != unit or not redundant(case):
            continue
        readings = [noisy(stated(reading), dice) for reading in case.readings]
        model = Model(case, readings)
        fit = model.fit()
        covariance = np.linalg.pinv(fit.jac.T @ fit.jac, rcond=1e-13)
        told = answers(solved_readings(case.vehicle, readings, width_uncertainty=0.0))
        for index, key in enumerate(model.names):
            if key in told:
                value, u = told[key]
                assert value == pytest.approx(fit.x[index], abs=NEAR * u), key
                assert u == pytest.approx(covariance[index, index] ** 0.5, rel=NEAR), key
                compared += 1
    assert compared > 50
