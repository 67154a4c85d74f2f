"""Writes formulas out as straight-line Python, once, by running them on symbols instead of numbers.

The solver's formulas are written for a float and for an array alike (`numbers.py`). Run on symbols
they leave behind every operation they did, in order and none of them twice; written out as the
source of one function, with its results in local variables, they take a third of the time, since
no loop, no tuple and no call is left. What is computed, and in which order, stays the same.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from service.geometry.numbers import Functions, Number

NESTED = 24
"""Operations that one line may hold within each other; the compiler's own limit is at 200."""

_MIRRORED = frozenset({"+", "*"})
"""Operations that give the same, to the last bit, with their operands exchanged."""


class Symbol:
    """What stands for a number while formulas are traced; `node` is its place in the trace."""

    __slots__ = ("node", "trace")

    def __init__(self, trace: "Trace", node: int) -> None:
        self.trace = trace
        self.node = node

    def __add__(self, other: Number) -> Number:
        return self if _is(other, 0.0) else self.trace.of("+", self, other)

    def __radd__(self, other: float) -> Number:
        return self if other == 0.0 else self.trace.of("+", other, self)

    def __sub__(self, other: Number) -> Number:
        return self if _is(other, 0.0) else self.trace.of("-", self, other)

    def __rsub__(self, other: float) -> Number:
        return -self if other == 0.0 else self.trace.of("-", other, self)

    def __mul__(self, other: Number) -> Number:
        if isinstance(other, Symbol):
            return self.trace.of("*", self, other)
        return self.__rmul__(other)

    def __rmul__(self, other: float) -> Number:
        if other == 0.0:
            return 0.0
        if other == 1.0:
            return self
        return -self if other == -1.0 else self.trace.of("*", other, self)

    def __truediv__(self, other: Number) -> Number:
        return self if _is(other, 1.0) else self.trace.of("/", self, other)

    def __rtruediv__(self, other: float) -> Number:
        return 0.0 if other == 0.0 else self.trace.of("/", other, self)

    def __pow__(self, exponent: int) -> Number:
        power: Number = self
        for _ in range(exponent - 1):
            power = power * self
        return power

    def __neg__(self) -> Number:
        return self.trace.call("-", self)

    def __abs__(self) -> Number:
        return self.trace.call("abs", self)

    def __bool__(self) -> bool:
        raise TypeError("what a formula does must not hang on the numbers in it")


def _is(other: Number, constant: float) -> bool:
    return not isinstance(other, Symbol) and bool(other == constant)


class Trace:
    """Operations in the order they were done, each once; it stands for `math` while tracing."""

    def __init__(self) -> None:
        self.nodes: list[tuple[Any, ...]] = []
        self.known: dict[tuple[Any, ...], int] = {}

    def input(self, source: str) -> Symbol:
        """A number that is given to the function: an expression in its arguments."""
        return self._node(("input", source))

    def argument(self, name: str) -> "Argument":
        """An argument that is a sequence of numbers."""
        return Argument(self, name)

    def of(self, operation: str, a: Number, b: Number) -> Symbol:
        """An operation on two numbers, one of them a symbol at least."""
        operands = [_operand(a), _operand(b)]
        if operation in _MIRRORED:
            operands.sort(key=str)
        return self._node((operation, *operands))

    def call(self, name: str, *arguments: Number) -> Symbol:
        """A function of symbols."""
        return self._node((name, *map(_operand, arguments)))

    def _node(self, key: tuple[Any, ...]) -> Symbol:
        node = self.known.setdefault(key, len(self.nodes))
        if node == len(self.nodes):
            self.nodes.append(key)
        return Symbol(self, node)

    def sin(self, x: Number, /) -> Number:
        return self._function("sin", x)

    def cos(self, x: Number, /) -> Number:
        return self._function("cos", x)

    def tan(self, x: Number, /) -> Number:
        return self._function("tan", x)

    def atan(self, x: Number, /) -> Number:
        return self._function("atan", x)

    def sqrt(self, x: Number, /) -> Number:
        return self._function("sqrt", x)

    def hypot(self, x: Number, y: Number, /) -> Number:
        return self._function("hypot", x, y)

    def _function(self, name: str, *arguments: Number) -> Number:
        if any(isinstance(argument, Symbol) for argument in arguments):
            return self.call(name, *arguments)
        return getattr(math, name)(*arguments)

    def function(
        self, arguments: str, results: Sequence[Sequence[Number]]
    ) -> Callable[..., tuple[list[Number], ...]]:
        """The traced operations as a function of `f` (`math` or `numpy`) and the arguments.

        It returns a list for each of `results`, whose items are symbols or plain numbers.
        """
        return _compiled(_Writer(self.nodes, results).source(arguments))


class Argument(Sequence[Number]):
    """A sequence that is given to the function; how long it is shows when that is called."""

    def __init__(self, trace: Trace, name: str) -> None:
        self.trace = trace
        self.name = name

    def __getitem__(self, place: Any) -> Number:
        return self.trace.input(f"{self.name}[{place}]")

    def __iter__(self) -> Iterator[Number]:
        raise TypeError("how many numbers there are must not alter what a formula does")

    def __len__(self) -> int:
        raise TypeError("how many numbers there are must not alter what a formula does")


def _operand(number: Number) -> int | str:
    """A node, or the source of a constant."""
    return number.node if isinstance(number, Symbol) else repr(float(number))


class _Writer:
    """Writes those nodes that results hang on: a local variable where one is used twice."""

    def __init__(self, nodes: Sequence[tuple[Any, ...]], results: Sequence[Sequence[Number]]):
        self.nodes = nodes
        self.results = results
        self.uses = [0] * len(nodes)
        for result in results:
            for number in result:
                if isinstance(number, Symbol):
                    self.uses[number.node] += 1
        for node in reversed(range(len(nodes))):
            if self.uses[node]:
                for operand in nodes[node][1:]:
                    if isinstance(operand, int):
                        self.uses[operand] += 1
        self.texts: list[str] = [""] * len(nodes)
        self.depths = [0] * len(nodes)

    def source(self, arguments: str) -> str:
        """Source of the function."""
        called = {node[0] for node in self.nodes}
        lines = [f"def traced(f, {arguments}):"]
        lines += [f"{name} = f.{name}" for name in sorted(called) if hasattr(Functions, name)]
        for number in range(len(self.nodes)):
            if self.uses[number]:
                lines += self._line(number)
        told = ", ".join(f"[{', '.join(map(self._operand_of, row))}]" for row in self.results)
        return "\n    ".join([*lines, f"return {told},"])

    def _line(self, number: int) -> list[str]:
        name, *operands = self.nodes[number]
        if name == "input":
            text, depth = operands[0], 0
        else:
            places = [operand for operand in operands if isinstance(operand, int)]
            depth = 1 + max(self.depths[place] for place in places)
            text = _expression(name, list(map(self._text, operands)))
        if self.uses[number] == 1 and depth < NESTED and name != "input":
            self.texts[number], self.depths[number] = text, depth
            return []
        self.texts[number] = f"t{number}"
        return [f"t{number} = {text}"]

    def _text(self, operand: int | str) -> str:
        return self.texts[operand] if isinstance(operand, int) else operand

    def _operand_of(self, number: Number) -> str:
        return self._text(_operand(number))


def _expression(name: str, operands: list[str]) -> str:
    if len(operands) == 2 and not name.isalpha():
        return f"({operands[0]} {name} {operands[1]})"
    return f"(-{operands[0]})" if name == "-" else f"{name}({', '.join(operands)})"


def _compiled(source: str) -> Callable[..., tuple[list[Number], ...]]:
    names: dict[str, Any] = {}
    exec(source, names)  # noqa: S102 - made of operations on our own numbers
    traced: Callable[..., tuple[list[Number], ...]] = names["traced"]
    return traced
