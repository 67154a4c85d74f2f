"""Where shared numbers of a vehicle stand among the numbers of its pattern."""

CENTRING, WIDTH, FRAME_ANGLE, FIRST_AXLE = 0, 1, 2, 3
"""Standard uncertainty of the centring assumption and of a taped width (metres), slope of the frame
(radians, down at the rear positive), and the first of the axles' own numbers."""
