"""Standard uncertainties that hold when neither the reading nor its instrument states one.

Half the resolution is a rectangular law's half-width, so u = (resolution / 2) / sqrt(3)
(JCGM 100:2008, 4.3.7). The resolutions are what a yard tape, a steel scale and a hand gauge are
marked in; the re-hang angle and the centring assumption are judgements (type B), to be replaced by
a shop's own figures. Metres and radians.
"""

import math

SIXTEENTH = 0.0254 / 16


def from_resolution(resolution: float) -> float:
    """Standard uncertainty of a reading taken to the nearest `resolution`, in its unit."""
    return resolution / (2 * math.sqrt(3))


TAPE = from_resolution(SIXTEENTH)
"""A tape or scale read to the nearest 1/16 in (common practice, no source)."""

ANGLE = from_resolution(math.radians(0.05))
"""A wheel angle read to the nearest 0.05 degree (common practice, no source)."""

SWEEP = from_resolution(math.radians(0.25))
"""Camber read on a bubble to the nearest quarter of a degree (common practice, no source)."""

WEDGE = from_resolution(math.radians(0.5))
"""Wedges come in half-degree steps (US Navy NAVEDTRA 14050A, p. 191)."""

REHANG = math.radians(0.02)
"""Aim of a sightline from hanging to hanging (judgement; see POST /v1/repeatabilities)."""

CENTRING = 0.25 * 0.0254
"""An axle whose centring was not read: taken as centred to 1/4 in."""

DEFAULT_BY_KIND = {
    "sightline": TAPE,
    "frame_gap": TAPE,
    "setback_span": TAPE,
    "axle_span": TAPE,
    "kingpin_span": TAPE,
    "toe_width": from_resolution(0.0254 / 32),
    "toe_scale": from_resolution(0.0254 / 32),
    "wheel_angle": ANGLE,
    "caster_sweep": SWEEP,
    "wedge": WEDGE,
}
