"""What fills the gaps of a stencil for vehicles of a stack: a row of pieces for each of them."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from service.contract.stencil import Sheet, Stencil
from service.geometry.stack import Table


class Rows:
    """Rows by vehicle, made of columns by place; `not_finite` are vehicles that have none.

    `settled` has a row for each vehicle, `told` an array for each number of the stencil, `words` a
    list for each piece.
    """

    def __init__(
        self,
        stencil: Stencil,
        settled: Table,
        told: Sequence[Any],
        words: Sequence[Sequence[bytes]],
    ) -> None:
        table: Any = np.array(told)
        finite = np.isfinite(table)
        table[~finite] = 0.0  # of vehicles whose rows are not used
        self.not_finite: set[int] = set(np.flatnonzero(~finite.all(axis=0)).tolist())
        self._stencil = stencil
        self._settled = settled
        self._rows: list[Sequence[bytes]] = list(stencil.rows(table.tolist(), words))
        self._keys = _keys(settled)
        self._sheets: dict[bytes, Sheet] = {}

    def fill(self, at: int, places: Sequence[int], pieces: Sequence[bytes]) -> None:
        """Put pieces into places of the row of a vehicle."""
        row = list(self._rows[at])
        for place, piece in zip(places, pieces, strict=True):
            row[place] = piece
        self._rows[at] = row

    def joined(self, at: int, before: bytes = b"", after: bytes = b"") -> bytes:
        """The JSON of a vehicle, between what is to stand around it.

        Raises `NotFiniteError` where a settled number is NaN or infinite.
        """
        row, key = self._rows[at], self._keys[at]
        sheet = self._sheets.get(key)
        if sheet is None:
            settled = tuple(self._settled[at].tolist())
            sheet = self._stencil.sheet(settled)
            if sheet is None:
                return self._stencil.joined(settled, row, before, after)
            self._sheets[key] = sheet
        return sheet.joined(row, before, after)


def _keys(settled: Table) -> list[bytes]:
    """The bytes of each row of a table: to look one up by them is quicker than by its numbers."""
    width = settled.itemsize * settled.shape[1]
    whole = np.ascontiguousarray(settled).tobytes()
    return [whole[at * width : (at + 1) * width] for at in range(len(settled))]
