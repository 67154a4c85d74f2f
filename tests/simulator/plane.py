"""Points, lines and distances of the plane seen from above: x forward, y right, clockwise positive.

Kept apart from the solver on purpose: nothing here knows a formula of axle alignment.
"""

import math

Point = tuple[float, float]
Line = tuple[Point, Point]
"""A point of the line and its direction."""


def heading(angle: float) -> Point:
    """Direction of a clockwise heading; 0 is straight ahead, a quarter turn is due right."""
    return (math.cos(angle), math.sin(angle))


def rightward(angle: float) -> Point:
    """Direction a quarter turn clockwise of a heading: along an axle, to its right end."""
    return (-math.sin(angle), math.cos(angle))


def along(start: Point, direction: Point, distance: float) -> Point:
    """Point at a signed distance from `start`."""
    return (start[0] + distance * direction[0], start[1] + distance * direction[1])


def cross(a: Point, b: Point) -> float:
    """Signed area that two directions span."""
    return a[0] * b[1] - a[1] * b[0]


def meet(first: Line, second: Line) -> Point:
    """Where two lines meet; ZeroDivisionError when they are parallel."""
    (p, d), (q, e) = first, second
    reach = cross((q[0] - p[0], q[1] - p[1]), e) / cross(d, e)
    return along(p, d, reach)


def transverse(x: float) -> Line:
    """Line square to the frame centreline at `x`."""
    return ((x, 0.0), (0.0, 1.0))


def rail(y: float) -> Line:
    """Line along the frame at `y`."""
    return ((0.0, y), (1.0, 0.0))


def distance(a: Point, b: Point) -> float:
    """Straight distance of two points, as a taut tape reads it."""
    return math.hypot(a[0] - b[0], a[1] - b[1])
