"""Prints a solution: the JSON that `answer.write` would give, by a stencil kept for its pattern.

It is for what comes again and again: a pattern that was met before, judged by a built-in target
set. Everything else is written as structs. Both ways give the same bytes.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

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
from service.contract.answer_plan import plan_of
from service.contract.intake import intake_of
from service.contract.print_geometry import GeometryPrint
from service.contract.print_plan import EMPTY, PlanPrint, array
from service.contract.print_prediction import PredictionPrint
from service.contract.print_running import RunningPrint
from service.contract.replies import encoded
from service.contract.solution import Solution, SolutionRequest
from service.contract.stencil import Stencil, words_gap
from service.geometry.findings import Finding as Judged
from service.geometry.findings import Judgement
from service.geometry.latest import Latest
from service.geometry.pattern import Pattern
from service.geometry.planning.plan import Plan

EARNED = 3
"""Vehicles of a kind that are written as structs before a stencil is cut, which costs ten times as
much."""

MOST_KEPT = 256
"""Stencils that are kept, at some 30 kB each with three axles."""

OF_PLAN = ("plan", "prediction", "remaining")
BESIDE_PLAN = ("assumptions", "suspects", "cautions")
SECTIONS = (*OF_PLAN, *BESIDE_PLAN)
"""Parts of a solution that come ready as JSON."""

UNSUSPICIOUS = (None, SOUND)
"""Conditions that give nothing to inspect."""

SAFETY_ALONE = b"[" + encoded(SAFETY) + b"]"

Kind = tuple[Pattern, Scale, str, bool, bool]
"""What one stencil is for: pattern, scale, built-in target set, whether straight running is told
and whether a steering ratio is given."""


def printed_answer(request: SolutionRequest) -> bytes:
    """The JSON of `answer(request)`; raises ProblemError that names everything wrong with it."""
    return printed(request, work(intake_of(request)))


def printed(request: SolutionRequest, worked: Worked) -> bytes:
    """The JSON of the answer to a request that is worked out.

    Raises `NotFiniteError` rather than write null for NaN or infinity.
    """
    solved = worked.solved
    ready = print_of(request, solved.pattern, worked.todo, worked.kept_as, solved.run is not None)
    if ready is None:
        return encoded(write(request, worked))
    return ready.printed(request, worked)


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
        self.places = [self.stencil.words_in_row(words + at)[0] for at in range(len(SECTIONS))]
        self.prediction = PredictionPrint(geometry, self.stencil)
        self.plan = PlanPrint(pattern, todo, scale)

    def printed(self, request: SolutionRequest, worked: Worked) -> bytes:
        """The JSON of one solution."""
        solved = worked.solved
        settled, numbers, words = self.geometry.fill(solved, worked.findings)
        if self.running is not None and solved.run is not None:
            own_numbers, own_words = self.running.fill(solved.run, request.steering_ratio)
            numbers += own_numbers
            words += own_words
        plan = planned(request, worked)
        words += self.of_plan(request, worked, plan, self.prediction.printed(plan))
        words += self.beside_plan(request, worked)
        return self.stencil.filled(settled, numbers, words)

    def of_plan(
        self, request: SolutionRequest, worked: Worked, made: Plan | None, prediction: bytes
    ) -> tuple[bytes, ...]:
        """The JSON of `OF_PLAN`, by what was `planned` and the JSON of its prediction."""
        plan, remaining = EMPTY, EMPTY
        if made is not None:
            plan, remaining = self.plan.printed(request, worked.intake, made)
        return plan, prediction, remaining

    def beside_plan(self, request: SolutionRequest, worked: Worked) -> tuple[bytes, ...]:
        """The JSON of `BESIDE_PLAN`."""
        intake, solved, _, _ = worked
        cautions = cautions_of(request, intake, solved, self.scale)
        suspects = suspects_of(solved, intake, self.scale) if solved.doubtful else ()
        return (
            self.assumed(intake.centring_uncertainty),
            array(map(encoded, suspects)),
            array(map(encoded, cautions)) if len(cautions) > 1 else SAFETY_ALONE,
        )

    def assumed(self, u: float) -> bytes:
        """The JSON of the assumptions, `u` being the uncertainty of each in metres."""
        pattern = self.geometry.pattern
        return _assumed(pattern, u, self.scale) if pattern.assumed else EMPTY


_kept = Latest[Kind, SolutionPrint | int](MOST_KEPT)


def print_of(
    request: SolutionRequest,
    pattern: Pattern,
    todo: Sequence[Judgement],
    kept_as: str | None,
    has_run: bool,
    vehicles: int = 1,
) -> SolutionPrint | None:
    """The print for a solution, None where it is to be written as structs.

    `todo` by the built-in target set `kept_as`; `has_run`: it can hold a course; so many come now.
    """
    if kept_as is None:
        return None
    scale = scale_of(request.length_unit, request.fraction, request.text)
    runs = request.running and has_run
    with_wheel = runs and request.steering_ratio is not None
    kind = (pattern, scale, kept_as, runs, with_wheel)
    found = _kept.get(kind, 0)
    if not isinstance(found, int):
        return found
    if found + vehicles <= EARNED:
        _kept.keep(kind, found + vehicles)
        return None
    forms = forms_of_findings(todo, pattern, scale, kept_as)
    # A row whose limits hang on the vehicle leaves nothing to be kept.
    known = [form for form in forms if form is not None]
    if len(known) < len(forms):
        return None
    made = SolutionPrint(kind, todo, known, request.length_unit)
    _kept.keep(kind, made)
    return made


def planned(request: SolutionRequest, worked: Worked) -> Plan | None:
    """The plan that a request asks for; None where there is nothing to plan or to inspect."""
    intake, solved, todo, found = worked
    if not request.plan or (request.conditions in UNSUSPICIOUS and _all_conform(found)):
        return None
    return plan_of(request, intake, solved, found, todo)


def _all_conform(found: Sequence[Judged]) -> bool:
    return all(finding[3] == CONFORMING for finding in found)


@lru_cache(maxsize=256)
def _assumed(pattern: Pattern, u: float, scale: Scale) -> bytes:
    return array(map(encoded, assumptions_of(pattern, u, scale)))
