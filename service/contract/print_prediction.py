"""Prints what a plan leads to: most of a vehicle stays as it is, and so does what is said of it."""

from collections.abc import Iterable, Sequence

from service.contract.answer import Worked
from service.contract.print_geometry import GeometryPrint
from service.contract.solution import Prediction
from service.contract.stencil import Stencil
from service.geometry.planning.plan import Plan

NULL = b"null"


class PredictionPrint:
    """Prints predictions, which have the geometry and the findings of a solution.

    `solution` is the stencil of the solutions that they stand in.
    """

    def __init__(self, geometry: GeometryPrint, solution: Stencil) -> None:
        self._geometry = geometry
        form = Prediction(**geometry.parts())
        self.stencil = Stencil(form, geometry.settled, geometry.numbers)
        self._from_solution = self.stencil.row_from(solution)
        in_row, places = self.stencil.words_in_row, geometry.places
        self._numbers = [self.stencil.numbers_in_row(number) for number in places.numbers]
        self._texts = [in_row(words) for words in places.texts]
        self._findings = [_all(map(in_row, words)) for words in places.findings]

    def printed(self, plan: Plan | None) -> bytes:
        """The JSON of what a plan leads to; null where nothing moves.

        Raises `NotFiniteError` rather than write null for NaN or infinity.
        """
        if plan is None or not plan.moves or plan.predicted is None or plan.findings is None:
            return NULL
        return self.stencil.filled(*self._geometry.fill(plan.predicted, plan.findings))

    def row(self, solution: Sequence[bytes], before: Worked, plan: Plan) -> list[bytes]:
        """The row of a prediction, by that of its solution and what differs from it.

        Its uncertainties are those of the solution. Raises `NotFiniteError` as `printed` does.
        """
        after, found = plan.predicted, plan.findings
        assert after is not None, "what moves leads to something"
        assert found is not None, "what moves leads to something"
        row, geometry = list(self._from_solution(solution)), self._geometry
        was, now = before.solved.values, after.values
        changed = [at for at, value in enumerate(now) if value != was[at]]
        numbers, texts = geometry.value_pieces(changed, now)
        for place, number in zip(changed, numbers, strict=True):
            for at in self._numbers[place]:
                row[at] = number
        if texts:
            for place, text in zip(changed, texts, strict=True):
                for at in self._texts[place]:
                    row[at] = text
        judged = zip(self._findings, before.findings, found, strict=True)
        for order, (own, first, then) in enumerate(judged):
            if first is not then:
                pieces = geometry.finding_pieces(order, then, now[then[0]])
                for at, piece in zip(own, pieces, strict=True):
                    row[at] = piece
        return row


def _all(several: Iterable[list[int]]) -> list[int]:
    return [one for some in several for one in some]
