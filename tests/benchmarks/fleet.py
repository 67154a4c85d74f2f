"""Invented tractors for benchmarks: three axles, eight readings as a technician would write them.

Every vehicle has readings of its own, in thirty-seconds of an inch. `within` limits nothing has to
be moved; `outside` the rear drive axle aims wrong and may sit off centre, and a plan is due;
`mixed` is one outside in four. `spanned` is within limits too, with a span from drive axle to
drive axle in place of the wedges, which makes the equations curved.
"""

import random
from pathlib import Path
from typing import Any

import msgspec

ROOT = Path(__file__).resolve().parents[2]

KINDS = ("within", "outside", "mixed", "spanned")


def bodies(kind: str, count: int, **options: Any) -> list[bytes]:
    """Bodies of `POST /v1/solutions`; `options` join each."""
    dice = random.Random(f"{kind} {count}")
    return [msgspec.json.encode({**_tractor(kind, at, dice), **options}) for at in range(count)]


def batch(parts: list[bytes]) -> bytes:
    """Bodies as one of `POST /v1/solutions/batch`."""
    return b'{"items":[' + b",".join(parts) + b"]}"


def _tractor(kind: str, at: int, dice: random.Random) -> dict[str, Any]:
    wrong = kind == "outside" or (kind == "mixed" and at % 4 == 0)
    front, rear = dice.choice([(175, 227), (187, 239), (160, 212)])
    aim = dice.uniform(0.3, 0.6) * dice.choice((-1, 1)) / 57.3 if wrong else 0.0
    off = dice.choice((0, 6, -6)) if wrong else 0
    return {
        "length_unit": "in",
        "target_set": "truck-published",
        "vehicle": {
            "unit": "tractor",
            "axles": [
                {"number": 1, "role": "steer", "distance": "0", "tyre_diameter": "40.2"},
                {"number": 2, "role": "drive", "distance": f"{front} 1/2"},
                {"number": 3, "role": "drive", "distance": f"{rear} 1/2"},
            ],
        },
        "readings": [
            {"kind": "sightline", "axle": 2, **_sides(110, 0, dice)},
            {"kind": "sightline", "axle": 3, **_sides(106, round(aim * rear * 32) + off, dice)},
            {"kind": "frame_gap", "axle": 1, **_sides(724, 0, dice)},
            {"kind": "frame_gap", "axle": 2, **_sides(966, 0, dice)},
            {"kind": "frame_gap", "axle": 3, **_sides(966, off, dice)},
            {
                "kind": "toe_scale",
                "axle": 1,
                "toe": _inches(dice.randint(1, 3)),
                "baseline": "40.2",
            },
            {"kind": "setback_span", "axle": 1, **_sides(770, 0, dice), "spread": "33 1/2"},
            _wedges() if kind != "spanned" else _span(aim, dice),
        ],
        "conditions": {"rolled_straight": True, "stopped_gently": True, "wheels_on_ground": True},
    }


def _wedges() -> dict[str, Any]:
    return {
        "kind": "wedge",
        "axle": 1,
        **{"left": "2.5", "left_thick_end": "rear", "right": "2.5", "right_thick_end": "rear"},
    }


def _span(aim: float, dice: random.Random) -> dict[str, Any]:
    sides = _sides(1664, round(aim * 35 * 32), dice)
    return {"kind": "axle_span", "front_axle": 2, "rear_axle": 3, **sides, "spread": "70"}


def _sides(middle: int, half: int, dice: random.Random) -> dict[str, str]:
    """A left and a right reading that differ by twice `half` and a little, thirty-seconds."""
    return {
        "left": _inches(middle - half + dice.randint(-1, 1)),
        "right": _inches(middle + half + dice.randint(-1, 1)),
    }


def _inches(count: int) -> str:
    """Thirty-seconds of an inch as they are written: whole inches and a reduced fraction."""
    whole, part = divmod(count, 32)
    below = 32
    while part and part % 2 == 0:
        part, below = part // 2, below // 2
    if not part:
        return str(whole)
    return f"{whole} {part}/{below}" if whole else f"{part}/{below}"
