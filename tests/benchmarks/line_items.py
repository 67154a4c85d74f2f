"""What a bill costs beside encoding its answer: `python tests/benchmarks/line_items.py`.

A final bill of a three-axle tractor with six corrections, minimum, supplies and discount, its
comparison with the estimate left out and put in. Each figure is the best of several runs in this
process, and the ratios are of figures of one run; the bodies are invented.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from time import process_time
from timeit import repeat

import msgspec

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from service.api.bill_answer import line_items_answer  # noqa: E402
from service.api.bill_intake import rate_card_of, round_of  # noqa: E402
from service.api.line_items import billed_of  # noqa: E402
from service.contract.bodies import reader_of  # noqa: E402
from service.contract.line_items import BillStage, LineItemsAnswer, LineItemsRequest  # noqa: E402
from service.contract.replies import encoded  # noqa: E402
from service.pricing.bill import bill  # noqa: E402
from service.pricing.derivation import work_from_plan, work_from_rounds  # noqa: E402

EXAMPLE = ROOT / "openapi" / "examples" / "line-items-request.json"
OUTSIDE = (
    ("offset", 2, "centre"),
    ("thrust", 2, "aim"),
    ("offset", 3, "centre"),
    ("thrust", 3, "aim"),
    ("setback", 1, "square"),
    ("toe", 1, "set_toe"),
)


def body() -> bytes:
    """The example's rate card with two solutions: six findings outside, then all within."""
    example = msgspec.json.decode(EXAMPLE.read_bytes())
    dollars = {"amount": "80.00", "currency": "USD"}
    example["rate_card"]["entries"].append(
        {"operation": "square_steer_axle", "rate": {"kind": "flat", "price": dollars}}
    )
    findings = [_finding(quantity, axle, "nonconforming") for quantity, axle, _ in OUTSIDE]
    findings += [_finding("scrub", 3, "nonconforming", 2), _finding("wedge_left", 1, "conforming")]
    steps = [
        {
            "step": number,
            "action": action,
            "axle": axle,
            "side": None,
            "ends": None,
            "because": [f"{quantity}-{axle}", *(["scrub-3"] if quantity == "thrust" else [])],
        }
        for number, (quantity, axle, action) in enumerate(OUTSIDE, start=1)
    ]
    axles = [{"number": number} for number in (1, 2, 3)]
    after = [{**finding, "verdict": "conforming"} for finding in findings]
    example["before"] = {"axles": axles, "findings": findings, "plan": steps}
    example["after"] = {"axles": axles, "findings": after, "plan": []}
    return msgspec.json.encode(example)


def _finding(quantity: str, axle: int, verdict: str, reference: int | None = None) -> object:
    return {
        "id": f"{quantity}-{axle}",
        "quantity": quantity,
        "axle": axle,
        "reference_axle": reference,
        "estimate": {"value": 0.25, "unit": "in", "text": "1/4 in right"},
        "verdict": verdict,
    }


def microseconds(task: Callable[[], object], number: int = 20) -> float:
    """The best of five hundred short runs, in microseconds of processor time a call."""
    return min(repeat(task, timer=process_time, number=number, repeat=500)) / number * 1e6


def main() -> None:
    """Print the parts of a request in microseconds and as ratios."""
    sent = body()
    reader = reader_of(LineItemsRequest)
    request = reader.read(sent)
    card = rate_card_of(request.rate_card, "rate_card")
    before, after = round_of(request.before), round_of(request.after)

    def derived() -> object:
        return work_from_rounds(before.findings, after.findings, before.steps, before.axles)

    def final() -> object:
        return bill(card, derived(), day=request.date)  # type: ignore[arg-type]

    billed = billed_of(request)
    answer = line_items_answer(*billed)
    alone = line_items_answer(BillStage.FINAL, billed.bill, None)
    encoder = msgspec.json.Encoder()
    lines = len(answer.lines)
    encode = microseconds(lambda: encoder.encode(alone))
    account = work_from_rounds(before.findings, after.findings, before.steps, before.axles)
    print(f"{len(sent)} bytes in, {lines} lines out, {len(encoder.encode(answer))} bytes out")
    print(f"msgspec encode of the answer without comparison   {encode:7.1f} us   1.0")
    for name, task in {
        "work from before and after": derived,
        "work from the plan": lambda: work_from_plan(before.findings, before.steps, before.axles),
        "pricing of that work": lambda: bill(card, account, day=request.date),
        "line items: both (the target is 100 us)": final,
        "rate card read and checked": lambda: rate_card_of(request.rate_card, "rate_card"),
        "answer written": lambda: line_items_answer(BillStage.FINAL, billed.bill, None),
        "strict decode of the body": lambda: reader.read(sent),
        "whole request, with the comparison": lambda: encoded(_answered(reader.read(sent))),
    }.items():
        cost = microseconds(task)
        print(f"{name:<48}  {cost:7.1f} us {cost / encode:5.1f}")


def _answered(request: LineItemsRequest) -> LineItemsAnswer:
    return line_items_answer(*billed_of(request))


if __name__ == "__main__":
    main()
