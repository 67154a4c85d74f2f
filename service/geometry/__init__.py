"""Axle geometry of heavy vehicles: pure arithmetic, no HTTP and no database.

Axes: x forward, y right, seen from above; headings clockwise positive (aims right).
Internally metres and radians.
"""
