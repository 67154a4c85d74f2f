"""One arithmetic for a float and for an array of vehicles.

Every formula of the solver is written once against this handful of functions; `math` serves one
vehicle and `numpy` a stack of them, so that the two paths cannot drift apart.
"""

from typing import Any, Protocol

Number = Any
"""A float, or a float64 array of shape (vehicles,)."""


class Functions(Protocol):
    """What `math` and `numpy` share and the formulas need."""

    def sin(self, x: Number, /) -> Number: ...
    def cos(self, x: Number, /) -> Number: ...
    def tan(self, x: Number, /) -> Number: ...
    def atan(self, x: Number, /) -> Number: ...
    def sqrt(self, x: Number, /) -> Number: ...
    def hypot(self, x: Number, y: Number, /) -> Number: ...
