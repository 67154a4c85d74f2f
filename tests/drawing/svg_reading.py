"""Reads a plan view back: shapes, texts and colours, by the standard library's XML parser."""

import math
import re
from typing import NamedTuple
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"


class Wheel(NamedTuple):
    """A wheel as drawn: its place and its turn, degrees clockwise."""

    x: float
    y: float
    turn: float


def parsed(svg: str) -> ElementTree.Element:
    """The drawing's root; raises ParseError where it is not well-formed."""
    return ElementTree.fromstring(svg)


def texts(root: ElementTree.Element) -> list[str]:
    """Every text that is drawn."""
    return ["".join(node.itertext()) for node in root.iter(f"{SVG}text")]


def groups(root: ElementTree.Element) -> list[tuple[ElementTree.Element, Wheel]]:
    """Every turned group with its place and turn."""
    found = []
    for node in root.iter(f"{SVG}g"):
        match = re.fullmatch(
            r"translate\(([-\d.]+) ([-\d.]+)\) rotate\(([-\d.]+)\)", node.get("transform", "")
        )
        assert match, node.get("transform")
        found.append((node, Wheel(*(float(number) for number in match.groups()))))
    return found


def wheels(root: ElementTree.Element) -> list[Wheel]:
    """Wheels in the order of drawing: left and right of each axle, front to rear."""
    return [place for node, place in groups(root) if node.find(f"{SVG}rect") is not None]


def aims(root: ElementTree.Element) -> list[Wheel]:
    """Arrows that show where an axle aims."""
    return [place for node, place in groups(root) if node.find(f"{SVG}path") is not None]


def beam_turns(root: ElementTree.Element) -> list[float]:
    """Turn of each axle's beam in degrees, right end further back positive."""
    placed = wheels(root)
    return [
        math.degrees(math.atan2(right.y - left.y, right.x - left.x))
        for left, right in zip(placed[::2], placed[1::2], strict=True)
    ]


def colours(root: ElementTree.Element) -> set[str]:
    """Every colour that is used."""
    found = set()
    for node in root.iter():
        for name in ("fill", "stroke"):
            if node.get(name, "none") != "none":
                found.add(node.get(name, ""))
    return found
