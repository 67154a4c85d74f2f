"""What a set of readings can tell and what it cannot.

The null space of the equations' derivatives holds every change of the unknowns that no reading
would notice. A quantity that such a change alters is not told by the readings and stays null.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from service.geometry.rows import CentredRow, Row

TOLERANCE = 1e-9

SHARE = 1e-9
"""An assumption whose change moves a quantity by less than this share has no part in it."""


class Estimability:
    """Rank of the equations at a nominal vehicle, with and without the assumptions.

    `kept` are unknowns that are solved for; the others are held at their starting value because
    the readings leave them free. Which of several free ones is held does not alter what is told.
    """

    def __init__(self, rows: Sequence[Row], unknowns: int, nominal: Sequence[float]):
        derivatives = np.zeros((len(rows), unknowns))
        start = [0.0] * unknowns
        for number, row in enumerate(rows):
            _, slopes, _ = row.equation(nominal, start, math)
            derivatives[number, list(row.unknowns)] = slopes
        assumed = np.array([isinstance(row, CentredRow) for row in rows], dtype=bool)
        self._free = _null_space(derivatives)
        self._normal = derivatives.T @ derivatives
        self._inverse = np.linalg.pinv(self._normal, rcond=1e-12)
        self._prior = derivatives[assumed].T @ derivatives[assumed]
        self.kept = _independent(derivatives)

    def told(self, gradient: Sequence[tuple[int, float]]) -> bool:
        """Whether readings and assumptions together fix this combination of the unknowns."""
        return not _moves(self._free, gradient)

    def unnoticed(self) -> list[dict[int, float]]:
        """Changes of the unknowns that no reading notices, each by what it makes of an unknown."""
        return [
            {
                unknown: float(share)
                for unknown, share in enumerate(change)
                if abs(share) > TOLERANCE
            }
            for change in self._free.T
        ]

    def rests_on_assumption(self, gradient: Sequence[tuple[int, float]]) -> bool:
        """Whether any assumption has a part in what is told of it."""
        vector = _vector(len(self._normal), gradient)
        shares = self._inverse @ vector * self._prior.diagonal()
        return bool(np.max(np.abs(shares), initial=0.0) > SHARE * np.max(np.abs(vector)))

    def sharpened(self, gradient: Sequence[tuple[int, float]]) -> bool:
        """Whether any reading adds to what the assumptions say of it."""
        vector = _vector(len(self._normal), gradient)
        if not np.all(self._prior.diagonal()[vector != 0] > 0):
            return True
        assumed = np.sum(vector[vector != 0] ** 2 / self._prior.diagonal()[vector != 0])
        solved = vector @ self._inverse @ vector
        return bool(solved < assumed * (1 - 1e-6))


def _vector(size: int, gradient: Sequence[tuple[int, float]]) -> NDArray[np.float64]:
    vector = np.zeros(size)
    for unknown, derivative in gradient:
        vector[unknown] = derivative
    return vector


def _moves(free: NDArray[np.float64], gradient: Sequence[tuple[int, float]]) -> bool:
    if free.shape[1] == 0:
        return False
    change = _vector(len(free), gradient) @ free
    return bool(np.max(np.abs(change)) > TOLERANCE)


def _null_space(derivatives: NDArray[np.float64]) -> NDArray[np.float64]:
    """Orthonormal columns that the equations do not notice, of shape (unknowns, free)."""
    if len(derivatives) == 0:
        return np.eye(derivatives.shape[1])
    _, singular, right = np.linalg.svd(derivatives, full_matrices=True)
    rank = int(np.sum(singular > TOLERANCE * singular[0])) if singular.size else 0
    return right[rank:].T


def _independent(derivatives: NDArray[np.float64]) -> frozenset[int]:
    """Columns, taken in order, that the ones before them do not already span."""
    kept: list[int] = []
    basis: list[NDArray[np.float64]] = []
    for column in range(derivatives.shape[1]):
        rest = derivatives[:, column].copy()
        size = float(np.linalg.norm(rest))
        for _ in range(2):  # a second sweep removes what rounding left of the first
            for direction in basis:
                rest -= (rest @ direction) * direction
        if size > 0 and np.linalg.norm(rest) > TOLERANCE * size:
            basis.append(rest / np.linalg.norm(rest))
            kept.append(column)
    return frozenset(kept)
