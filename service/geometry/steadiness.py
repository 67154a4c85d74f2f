"""Which uncertainties are the same for every vehicle of one model, whatever its readings say."""

from service.geometry.normal import Group
from service.geometry.numbers import Number
from service.geometry.pattern import Pattern
from service.geometry.quantities import Quantity
from service.geometry.rows import ToeScaleRow, ToeWidthRow
from service.geometry.tracing import Symbol, Trace


def steady_uncertainties(pattern: Pattern) -> list[bool]:
    """Of each quantity, whether its uncertainty hangs on no unknown, kept with the pattern.

    It then hangs on what is stated alone: distances, spreads, the sureness of readings. That of an
    angle changes a little with the angle itself.
    """
    kept: list[bool] | None = pattern.kept.get("steady")
    if kept is None:
        kept = pattern.kept["steady"] = [_is_steady(pattern, one) for one in pattern.quantities]
    return kept


def _is_steady(pattern: Pattern, quantity: Quantity) -> bool:
    groups = [pattern.groups[part[0]] for part in quantity.parts]
    if any(not group.linear or _moves(group) for group in groups):
        return False
    trace = Trace()
    numbers, unknowns = trace.argument("v"), trace.argument("p")
    _, derivatives = quantity.tell(numbers, unknowns, trace)
    return not any(_hangs_on(trace, derivative, "p[") for derivative in derivatives)


def _moves(group: Group) -> bool:
    """Whether a row is as sure as what was read on it lets it be: a slope, taken for an angle."""
    return any(isinstance(row, ToeScaleRow | ToeWidthRow) for row in group.rows)


def _hangs_on(trace: Trace, number: Number, source: str) -> bool:
    """Whether a traced number was worked out from an input of that name."""
    waiting = [number.node] if isinstance(number, Symbol) else []
    seen = set(waiting)
    while waiting:
        kind, *operands = trace.nodes[waiting.pop()]
        if kind == "input":
            if str(operands[0]).startswith(source):
                return True
            continue
        new = {one for one in operands if isinstance(one, int)} - seen
        seen |= new
        waiting += new
    return False
