"""What fills the gaps of a stencil for vehicles of a stack: a row of pieces for each of them."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from service.contract.sheet import Sheet
from service.contract.stencil import Stencil
from service.geometry.stack import Table


class Settled:
    """The settled numbers of vehicles, a row of a table each."""

    def __init__(self, table: Table) -> None:
        self._table = table
        width = table.itemsize * table.shape[1]
        whole = np.ascontiguousarray(table).tobytes()
        # To look a row up by its bytes is quicker than by its numbers.
        self.keys = [whole[at * width : (at + 1) * width] for at in range(len(table))]

    def of(self, at: int) -> tuple[float, ...]:
        """The numbers of one vehicle."""
        return tuple(self._table[at].tolist())


class Filler:
    """Fills a stencil for vehicles whose settled numbers are known."""

    def __init__(self, stencil: Stencil, settled: Settled) -> None:
        self._stencil = stencil
        self._settled = settled
        self._sheets: dict[bytes, Sheet] = {}

    def filled(
        self, at: int, row: Sequence[bytes], before: bytes = b"", after: bytes = b""
    ) -> bytes:
        """The JSON of a vehicle by its row, between what is to stand around it.

        Raises `NotFiniteError` where a settled number is NaN or infinite.
        """
        key = self._settled.keys[at]
        sheet = self._sheets.get(key)
        if sheet is None:
            settled = self._settled.of(at)
            sheet = self._stencil.sheet(settled)
            if sheet is None:
                return self._stencil.joined(settled, row, before, after)
            self._sheets[key] = sheet
        return sheet.joined(row, before, after)


class Rows:
    """Rows by vehicle, made of columns by place; `not_finite` are vehicles that have none.

    `told` has an array for each number of the stencil, `words` a list for each piece.
    """

    def __init__(
        self, stencil: Stencil, told: Sequence[Any], words: Sequence[Sequence[bytes]]
    ) -> None:
        table: Any = np.array(told)
        finite = np.isfinite(table)
        table[~finite] = 0.0  # of vehicles whose rows are not used
        self.not_finite: set[int] = set(np.flatnonzero(~finite.all(axis=0)).tolist())
        self._rows = list(stencil.rows(table.tolist(), words))

    def __getitem__(self, at: int) -> Sequence[bytes]:
        return self._rows[at]
