"""Prints what plans lead to, of one vehicle or of many together."""

from collections.abc import Sequence

import numpy as np

from service.contract.print_geometry import GeometryPrint
from service.contract.print_rows import Rows
from service.contract.solution import Prediction
from service.contract.stencil import Stencil
from service.geometry.findings import Finding, Judgement
from service.geometry.judging import columns_of
from service.geometry.planning.plan import Plan

FEWEST = 6
"""Of fewer predictions columns cost more than they save."""

NULL = b"null"


class PredictionPrint:
    """Prints predictions, which have the geometry and the findings of solutions."""

    def __init__(self, geometry: GeometryPrint, todo: Sequence[Judgement]) -> None:
        self._geometry = geometry
        self._todo = todo
        form = Prediction(**geometry.parts())
        self._stencil = Stencil(form, geometry.settled, geometry.numbers)

    def printed(self, plan: Plan | None) -> bytes:
        """The JSON of what a plan leads to; null where nothing moves.

        Raises `NotFiniteError` rather than write null for NaN or infinity.
        """
        if plan is None or not plan.moves or plan.predicted is None or plan.findings is None:
            return NULL
        return self._stencil.filled(*self._geometry.fill(plan.predicted, plan.findings))

    def printed_together(self, plans: dict[int, Plan | None]) -> dict[int, bytes]:
        """The same of many plans; those that are left out are to be printed one by one."""
        places, solved, found = [], [], list[list[Finding]]()
        for place, plan in plans.items():
            if plan is not None and plan.moves and plan.predicted and plan.findings:
                places.append(place)
                solved.append(plan.predicted)
                found.append(plan.findings)
        if len(places) < FEWEST:
            return {}
        columns = self._geometry.columns(
            np.array([one.values for one in solved]),
            np.array([one.uncertainties for one in solved]),
            [one.numbers for one in solved],
            columns_of(found, self._todo),
        )
        rows = Rows(self._stencil, *columns)
        return {
            place: rows.joined(at) for at, place in enumerate(places) if at not in rows.not_finite
        }
