"""A solution as a person reads it on a terminal: plain lines, words for states, no colour."""

import textwrap
from typing import Any

WIDTH = 96
ROWS = (
    ("offset", "Offset"),
    ("thrust", "Thrust"),
    ("toe_length", "Total toe"),
    ("toe", ""),
    ("setback", "Setback"),
    ("skew", ""),
    ("kingpin_difference", "Kingpin difference"),
    ("camber_left", "Camber left"),
    ("camber_right", "Camber right"),
    ("caster_left", "Caster left"),
    ("caster_right", "Caster right"),
    ("wedge_difference", "Wedges"),
)
VERDICTS = {
    "conforming": "conforms",
    "nonconforming": "DOES NOT CONFORM",
    "undetermined": "undetermined",
}


def solution_table(solution: dict[str, Any]) -> str:
    """The whole solution as text."""
    parts = [_geometry(solution), _findings(solution), *_notes(solution)]
    return "\n\n".join(part for part in parts if part)


def _geometry(solution: dict[str, Any]) -> str:
    lines = ["GEOMETRY (uncertainty k=2)"]
    for axle in solution["axles"]:
        lines.append(f"  Axle {axle['number']}, {axle['role']}")
        told = [_estimate(label, axle[name]) for name, label in ROWS if axle[name] is not None]
        lines += told or ["    no reading reaches it"]
    for pair in solution["pairs"]:
        if pair["scrub"] is not None:
            lines.append(f"  Axles {pair['front']} and {pair['rear']}")
            lines.append(_estimate("Scrub", pair["scrub"]))
    return "\n".join(lines)


def _estimate(label: str, estimate: dict[str, Any]) -> str:
    value = f"{estimate['value']:+9.3f} ±{estimate['uncertainty']:.3f} {estimate['unit']}"
    note = "" if estimate["basis"] == "measured" else " (rests on an assumption)"
    return f"    {label:<19}{value:<24}{estimate['text']}{note}"


def _findings(solution: dict[str, Any]) -> str:
    if not solution["findings"]:
        return ""
    judged_by = solution["target_set"] or "the targets sent along"
    lines = [f"FINDINGS (against {judged_by})"]
    for finding in solution["findings"]:
        state = VERDICTS[finding["verdict"]]
        lines += _wrapped(f"{state:<17}", finding["text"])
    return "\n".join(lines)


def _notes(solution: dict[str, Any]) -> list[str]:
    parts = [_plan(solution)]
    for name, title in (
        ("remaining", "NOT REACHED BY THE PLAN"),
        ("suspects", "READINGS TO CHECK"),
        ("assumptions", "ASSUMPTIONS"),
        ("cautions", "CAUTIONS"),
    ):
        entries = solution.get(name) or []
        if entries:
            lines = [title]
            for entry in entries:
                pointer = entry.get("pointer")
                lines += _wrapped("- ", f"{pointer}: {entry['text']}" if pointer else entry["text"])
            parts.append("\n".join(lines))
    return parts


def _plan(solution: dict[str, Any]) -> str:
    """Steps in order, each with what the scales must show once it is right."""
    if not solution["plan"]:
        return ""
    lines = ["PLAN"]
    for step in solution["plan"]:
        lines += _wrapped(f"{step['step']}. ", step["text"])
        for expected in step["expect"]:
            kind = expected["kind"].replace("_", " ")
            marks = ", ".join(
                f"{m['name'].replace('_', ' ')} {_band(m)}" for m in expected["marks"]
            )
            lines += _wrapped("   then ", f"{kind} of axle {expected['axle']}: {marks}")
    return "\n".join(lines)


def _band(mark: dict[str, Any]) -> str:
    """A mark and, in its unit, between which values it is right."""
    lower, upper = mark["lower"], mark["upper"]
    if lower is None and upper is None:
        return str(mark["text"])
    if lower is None or upper is None:
        bound = f"at most {upper:.3f}" if lower is None else f"at least {lower:.3f}"
        return f"{mark['text']} ({bound})"
    return f"{mark['text']} ({lower:.3f} to {upper:.3f})"


def _wrapped(mark: str, text: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=f"  {mark}", subsequent_indent=" " * (2 + len(mark))
    )
