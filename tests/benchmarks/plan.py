"""What a correction plan costs beside its solution: `python tests/benchmarks/plan.py`.

Printed are microseconds of processor time for one vehicle in-process, the best of many rounds that
take turns, and the ratio to the same request with `"plan": false`. All vehicles are invented. The
last one is as bad as a request can be: twelve axles out of line, each moved in coarse steps.

Then the plans of a fleet by themselves, as worked out and before they are written, beside what it
takes to solve and judge the same vehicles one by one.
"""

import gc
import random
import sys
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from time import thread_time
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import msgspec  # noqa: E402
from fleet import bodies  # noqa: E402

from service.contract.answer import Worked, answer, work  # noqa: E402
from service.contract.intake import intake_of  # noqa: E402
from service.contract.solution import SolutionRequest  # noqa: E402
from service.geometry.planning.plan import Plan, plan  # noqa: E402

ROUNDS = 40
FLEET = 400
TANDEM = msgspec.json.decode(
    (ROOT / "openapi" / "examples" / "solution-request.tandem-out-of-line.json").read_bytes()
)
CONFORMING = msgspec.json.decode(
    (ROOT / "openapi" / "examples" / "solution-request.json").read_bytes()
)


def in_steps() -> dict[str, Any]:
    """The tandem with shims, a part of a turn and little travel."""
    made = deepcopy(TANDEM)
    for axle in made["vehicle"]["axles"][1:]:
        turning = {"kind": "longitudinal", "ends": "left_end", "spread": "41", "increment": "1/16"}
        axle["adjusters"] = [{"kind": "lateral", "increment": "1/16"}, turning]
    rod = {"kind": "tie_rod", "thread_pitch": "1/18", "arm_length": "7 1/2", "increment": "1/8"}
    made["vehicle"]["axles"][0]["adjusters"] = [rod]
    return made


def undecided() -> dict[str, Any]:
    """The tandem with nothing taped to the frame, so that a reading is asked for."""
    made = deepcopy(TANDEM)
    made["readings"] = [r for r in made["readings"] if r["kind"] != "frame_gap"]
    return made


def hopeless() -> dict[str, Any]:
    """Twelve trailer axles at random, limits no coarse step can meet."""
    dice = random.Random(1)
    axles, readings = [], []
    for number in range(1, 13):
        steps = f"{dice.uniform(1, 6):.3f} mm"
        turning = {"kind": "longitudinal", "increment": steps, "spread": f"{dice.uniform(35, 75)}"}
        axles.append(
            {
                "number": number,
                "role": "trailer",
                "distance": f"{300 + 50 * number}",
                "adjusters": [turning, turning | {"ends": "left_end"}],
            }
        )
        left, right = (f"{dice.uniform(8, 12):.3f}" for _ in range(2))
        readings.append({"kind": "sightline", "axle": number, "left": left, "right": right})
        readings.append({"kind": "frame_gap", "axle": number, "left": "30", "right": "30"})
    band = {"unit": "deg", "nominal": "0", "lower": "-0.06", "upper": "0.06"}
    return TANDEM | {
        "vehicle": {"unit": "trailer", "axles": axles},
        "readings": readings,
        "target_set": None,
        "targets": {
            "rows": [{"quantity": q} | band for q in ("thrust", "scrub")],
            "decision_rule": "simple",
        },
    }


CASES = {
    "a vehicle that conforms": CONFORMING,
    "a tandem out of line": TANDEM,
    "the same in steps": in_steps(),
    "the same undecided": undecided(),
    "twelve hopeless axles": hopeless(),
}


def seconds(work: Callable[[], object], times: int) -> float:
    """Processor seconds of one call."""
    begun = thread_time()
    for _ in range(times):
        work()
    return (thread_time() - begun) / times


def costs(case: dict[str, Any], **change: Any) -> tuple[float, float, int]:
    """Microseconds without and with a plan, and how many steps it has."""
    requests = [
        msgspec.convert(case | change | {"plan": plan, "running": False}, SolutionRequest)
        for plan in (False, True)
    ]
    steps = len(answer(requests[1]).plan)
    times = max(1, min(50, int(0.02 / max(seconds(lambda: answer(requests[1]), 1), 1e-6))))
    best = [float("inf")] * 2
    for _ in range(ROUNDS if times > 1 else 3):
        for number, request in enumerate(requests):

            def work(request: SolutionRequest = request) -> object:
                return answer(request)

            best[number] = min(best[number], seconds(work, times))
    return best[0] * 1e6, best[1] * 1e6, steps


def both_axles(body: dict[str, Any], dice: random.Random) -> dict[str, Any]:
    """The front drive axle aims wrong as well."""
    half = dice.choice((-1, 1)) * dice.randint(20, 40)
    left, right = (f"{(110 + side * half) / 32}" for side in (-1, 1))
    first, *others = body["readings"]
    return body | {"readings": [first | {"left": left, "right": right}, *others]}


def nominal(body: dict[str, Any], _: random.Random) -> dict[str, Any]:
    """All that moves is to be set to its nominal."""
    return body | {"plan_to": "nominal"}


def in_shims(body: dict[str, Any], _: random.Random) -> dict[str, Any]:
    """Both drive axles are turned by shims."""
    turning = {"kind": "longitudinal", "ends": "both_ends", "spread": "41", "increment": "1/64"}
    vehicle = deepcopy(body["vehicle"])
    for axle in vehicle["axles"][1:]:
        axle["adjusters"] = [{"kind": "lateral"}, turning]
    return body | {"vehicle": vehicle}


def unequal_wedges(body: dict[str, Any], _: random.Random) -> dict[str, Any]:
    """The wedges differ, and centring is judged: one thing more to settle."""
    readings = [r | {"right": "1"} if r["kind"] == "wedge" else r for r in body["readings"]]
    return body | {"readings": readings, "target_set": "common-practice"}


VARIANTS: dict[str, Callable[[dict[str, Any], random.Random], dict[str, Any]]] = {
    "rear drive axle out": lambda body, _: body,
    "both drive axles out": both_axles,
    "rear one out, to nominal": nominal,
    "rear one out, in shims": in_shims,
    "and unequal wedges": unequal_wedges,
}


def planned(worked: Worked, request: SolutionRequest) -> Plan:
    """The plan of a vehicle that is judged."""
    intake = worked.intake
    return plan(
        worked.solved,
        intake.readings,
        worked.findings,
        worked.todo,
        intake.targets.decision_rule,
        intake.adjusters,
        intake.sureness,
        request.plan_to.value == "nominal",
    )


def fleets() -> None:
    """Print what a plan takes beside solving and judging, by what is out."""
    print(f"\n{'':28}{'moves':>6}{'solved':>10}{'planned':>11}{'ratio':>7}")
    for name, change in VARIANTS.items():
        dice = random.Random(name)
        made = [change(msgspec.json.decode(body), dice) for body in bodies("outside", FLEET)]
        requests = [msgspec.convert(body, SolutionRequest) for body in made]
        intakes = [intake_of(request) for request in requests]
        pairs = [(work(intake), request) for intake, request in zip(intakes, requests, strict=True)]
        moves = sum(len(planned(*pair).moves) for pair in pairs) / FLEET
        ways = (
            lambda intakes=intakes: [work(intake) for intake in intakes],
            lambda pairs=pairs: [planned(*pair) for pair in pairs],
        )
        gc.collect()
        gc.freeze()
        best = [float("inf")] * 2
        for _ in range(ROUNDS):
            for number, way in enumerate(ways):
                best[number] = min(best[number], seconds(way, 1) / FLEET)
        worked, plans = best[0] * 1e6, best[1] * 1e6
        print(f"{name:28}{moves:6.2f}{worked:10.1f}{plans:11.1f}{plans / worked:7.2f}")


def main() -> None:
    """Print one line for each vehicle, with and without texts, and one for each fleet."""
    print(f"{'':28}{'steps':>6}{'without':>10}{'with plan':>11}{'plan':>10}{'ratio':>7}")
    for name, case in CASES.items():
        for text in (True, False):
            without, with_plan, steps = costs(case, text=text)
            label = name if text else "  without texts"
            print(
                f"{label:28}{steps:6}{without:10.0f}{with_plan:11.0f}"
                f"{with_plan - without:10.0f}{with_plan / without:7.2f}"
            )
    fleets()


if __name__ == "__main__":
    main()
