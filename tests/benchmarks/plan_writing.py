"""What it costs to write a plan that is worked out: `python tests/benchmarks/plan_writing.py`.

The steps of tractors of which each needs a plan, as structs, as structs that are encoded, and
printed. Printed are microseconds a vehicle and ratios to structs that are encoded.
"""

import gc
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from fleet import bodies  # noqa: E402
from rounds import table, timed  # noqa: E402

from service.contract.answer import Worked, work  # noqa: E402
from service.contract.answer_estimates import Scale, scale_of  # noqa: E402
from service.contract.answer_plan import Planned, plan_of, written  # noqa: E402
from service.contract.bodies import reader_of  # noqa: E402
from service.contract.intake import intake_of  # noqa: E402
from service.contract.print_plan import PlanPrint  # noqa: E402
from service.contract.replies import encoded  # noqa: E402
from service.contract.solution import SolutionRequest  # noqa: E402
from service.geometry.planning.plan import Plan  # noqa: E402

VEHICLES = 400
Case = tuple[SolutionRequest, Worked, Scale, Plan]

read = reader_of(SolutionRequest).read


def cases(kind: str, text: bool) -> list[Case]:
    """Vehicles that have something to move or to read, with their plans."""
    found = list[Case]()
    for body in bodies(kind, VEHICLES, text=text):
        asked: SolutionRequest = read(body)
        done = work(intake_of(asked))
        plan = plan_of(asked, done.intake, done.solved, done.findings, done.todo)
        if plan.moves or plan.advice is not None:
            scale = scale_of(asked.length_unit, asked.fraction, asked.text)
            found.append((asked, done, scale, plan))
    return found


def as_structs(case: Case) -> Planned:
    """The steps as structs."""
    asked, done, scale, plan = case
    return written(asked, done.intake, done.solved.pattern, done.findings, plan, scale)


def as_bytes(case: Case) -> tuple[bytes, bytes]:
    """The structs as JSON."""
    told = as_structs(case)
    steps, remaining = (b",".join(map(encoded, items)) for items in (told.steps, told.remaining))
    return b"[" + steps + b"]", b"[" + remaining + b"]"


def compare(kind: str, text: bool) -> None:
    """Print what the ways cost, which give the same bytes."""
    chosen = cases(kind, text)
    prints = {
        (done.solved.pattern, scale): PlanPrint(done.solved.pattern, done.todo, scale)
        for _, done, scale, _ in chosen
    }

    def printed(case: Case) -> tuple[bytes, bytes]:
        asked, done, scale, plan = case
        return prints[done.solved.pattern, scale].printed(asked, done.intake, plan)

    for case in [*chosen, *chosen]:
        if printed(case) != as_bytes(case):
            raise AssertionError("what is printed is not what is written")
    figures = timed(
        {
            "structs, encoded": lambda: list(map(as_bytes, chosen)),
            "structs": lambda: list(map(as_structs, chosen)),
            "printed": lambda: list(map(printed, chosen)),
        },
        rounds=60,
    )
    name = f"{kind}, {'with' if text else 'without'} text, {len(chosen)} vehicles"
    table(name, figures, figures["structs, encoded"], len(chosen))


def main() -> None:
    """Print all of it."""
    gc.collect()
    gc.freeze()
    for kind in ("outside", "mixed"):
        for text in (True, False):
            compare(kind, text)


if __name__ == "__main__":
    main()
