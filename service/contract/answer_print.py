"""Prints a solution: the JSON that `answer.write` would give, by a stencil kept for its pattern.

It is for what comes again and again: a pattern that was met before, judged by a built-in target
set. Everything else is written as structs. Both ways give the same bytes.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import msgspec

from service.contract.answer import (
    ENGINE,
    Worked,
    assumptions_of,
    suspects_of,
    work,
    write,
)
from service.contract.answer_cautions import SAFETY, SOUND, cautions_of
from service.contract.answer_estimates import Scale, scale_of
from service.contract.answer_findings import CONFORMING, Form, forms_of_findings
from service.contract.answer_plan import Planned, planned
from service.contract.intake import intake_of
from service.contract.print_geometry import Figures, GeometryPrint, PredictionPrint
from service.contract.print_running import RunningPrint
from service.contract.replies import encoded
from service.contract.solution import Solution, SolutionRequest
from service.contract.stencil import Stencil, words_gap
from service.geometry.findings import Finding as Judged
from service.geometry.findings import Judgement
from service.geometry.pattern import Pattern

EARNED = 3
"""Vehicles of a kind that are written as structs before a stencil is cut, which costs ten times as
much."""

MOST_KEPT = 256
"""Stencils that are kept, at some 30 kB each with three axles."""

SECTIONS = ("plan", "prediction", "remaining", "assumptions", "suspects", "cautions")
"""Parts of a solution that come ready as JSON."""

EMPTY, NULL = b"[]", b"null"
CONFORMING_ALONE = frozenset({CONFORMING})
UNSUSPICIOUS = (None, SOUND)
"""Conditions that give nothing to inspect."""

SAFETY_ALONE = b"[" + encoded(SAFETY) + b"]"

Kind = tuple[Pattern, Scale, str, bool, bool]
"""What one stencil is for: pattern, scale, built-in target set, whether straight running is told
and whether a steering ratio is given."""


def printed_answer(request: SolutionRequest) -> bytes:
    """The JSON of `answer(request)`; raises ProblemError that names everything wrong with it."""
    return printed(request, work(intake_of(request)))


def printed(request: SolutionRequest, worked: Worked, figures: Figures | None = None) -> bytes:
    """The JSON of the answer to a request that is worked out; `figures` if they are known already.

    Raises `NotFiniteError` rather than write null for NaN or infinity.
    """
    ready = print_of(request, worked)
    if ready is None:
        return encoded(write(request, worked))
    return ready.printed(request, worked, figures)


class SolutionPrint:
    """Prints solutions of one kind."""

    def __init__(
        self, kind: Kind, todo: Sequence[Judgement], findings: list[Form], unit: Any
    ) -> None:
        pattern, scale, target_set, runs, with_wheel = kind
        self.scale = scale
        places = [job.quantity for job in todo]
        self.geometry = geometry = GeometryPrint(pattern, scale, findings, places)
        self.running = None
        if runs:
            self.running = RunningPrint(pattern, scale, with_wheel, geometry)
        words = geometry.words + (0 if self.running is None else self.running.words)
        sections: dict[str, Any] = {name: words_gap(words + at) for at, name in enumerate(SECTIONS)}
        form = Solution(
            engine=ENGINE,
            length_unit=unit,
            target_set=target_set,
            running=None if self.running is None else self.running.form,
            **geometry.parts(),
            **sections,
        )
        numbers = geometry.numbers + (0 if self.running is None else self.running.numbers)
        self.stencil = Stencil(form, geometry.settled, numbers)
        self.prediction = PredictionPrint(geometry)

    def printed(
        self, request: SolutionRequest, worked: Worked, figures: Figures | None = None
    ) -> bytes:
        """The JSON of one solution; `figures` if they are known already."""
        intake, solved, todo, found = worked
        if figures is None:
            figures = self.geometry.figures(solved)
        settled, numbers, words = self.geometry.fill(figures, solved, found)
        if self.running is not None and solved.run is not None:
            own_numbers, own_words = self.running.fill(solved.run, request.steering_ratio)
            numbers += own_numbers
            words += own_words
        if request.plan and not (_all_conform(found) and request.conditions in UNSUSPICIOUS):
            plan = planned(request, intake, solved, found, todo, self.scale)
            words += (_array(plan.steps), self._prediction(plan), _array(plan.remaining))
        else:
            words += (EMPTY, NULL, EMPTY)
        assumed = solved.pattern.assumed
        cautions = cautions_of(request, intake, solved, self.scale)
        words += (
            _assumed(solved.pattern, intake.centring_uncertainty, self.scale) if assumed else EMPTY,
            _array(suspects_of(solved, intake, self.scale)) if solved.doubtful else EMPTY,
            _array(cautions) if len(cautions) > 1 else SAFETY_ALONE,
        )
        return self.stencil.filled(settled, numbers, words)

    def _prediction(self, planned: Planned) -> bytes:
        plan = planned.plan
        if plan.predicted is None or plan.findings is None or not plan.moves:
            return NULL
        return self.prediction.printed(plan.predicted, plan.findings)


_kept: dict[Kind, SolutionPrint | int] = {}


def print_of(request: SolutionRequest, worked: Worked, vehicles: int = 1) -> SolutionPrint | None:
    """The print for a solution, None where it is to be written as structs; so many come now."""
    kept_as = worked.kept_as
    if kept_as is None:
        return None
    scale = scale_of(request.length_unit, request.fraction, request.text)
    solved = worked.solved
    runs = request.running and solved.run is not None
    with_wheel = runs and request.steering_ratio is not None
    kind = (solved.pattern, scale, kept_as, runs, with_wheel)
    found = _kept.get(kind, 0)
    if not isinstance(found, int):
        return found
    if found + vehicles <= EARNED:
        _keep(kind, found + vehicles)
        return None
    forms = forms_of_findings(worked.todo, solved.pattern, scale, kept_as)
    # A row whose limits hang on the vehicle leaves nothing to be kept.
    known = [form for form in forms if form is not None]
    if len(known) < len(forms):
        return None
    made = SolutionPrint(kind, worked.todo, known, request.length_unit)
    _keep(kind, made)
    return made


def _keep(kind: Kind, what: SolutionPrint | int) -> None:
    if len(_kept) >= MOST_KEPT and kind not in _kept:
        # The oldest goes, and has to earn its place anew.
        del _kept[next(iter(_kept))]
    _kept[kind] = what


def _all_conform(found: Sequence[Judged]) -> bool:
    return {finding[3] for finding in found} <= CONFORMING_ALONE


@lru_cache(maxsize=256)
def _assumed(pattern: Pattern, u: float, scale: Scale) -> bytes:
    return _array(assumptions_of(pattern, u, scale))


def _array(items: Sequence[msgspec.Struct]) -> bytes:
    return b"[" + b",".join(map(encoded, items)) + b"]"
