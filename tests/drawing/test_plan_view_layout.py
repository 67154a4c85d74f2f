"""No text of a plan view meets another or leaves the sheet, whatever the vehicle. Invented."""

from itertools import combinations

import pytest
from drawing.fleet import FLEET, SIZES, drawn
from hypothesis import given, settings
from hypothesis import strategies as st

from service.drawing.canvas import Picture
from service.drawing.labels import stacked
from service.drawing.plan_view import Panel, plan_view
from service.drawing.words import words_of
from service.geometry.vehicle import Axle, Vehicle
from service.locale.catalogue import LANGUAGES


def faults(picture: Picture) -> list[str]:
    """Texts that meet, and texts that leave the sheet."""
    found = [
        f"{text!r} leaves the sheet"
        for text, box in picture.texts
        if box.left < 0 or box.top < 0 or box.right > picture.width or box.bottom > picture.height
    ]
    for (text, box), (other, other_box) in combinations(picture.texts, 2):
        if box.meets(other_box):
            found.append(f"{text!r} meets {other!r}")
    return found


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", FLEET)
def test_no_text_meets_another_or_leaves_the_sheet(name: str, size: str) -> None:
    for told in ("all", "half", "none"):
        panels = [
            Panel(drawn(FLEET[name], size, told), "Before"),
            Panel(drawn(FLEET[name], "usual", told), "After"),
        ]
        for language in LANGUAGES:
            words = words_of(language, "mm" if language == "fr" else "in")
            assert faults(plan_view(panels, words, "Unit 4711")) == []
            assert faults(plan_view(panels[:1], words)) == []


ROLES = st.sampled_from(["steer", "drive", "tag", "pusher", "trailer", "dolly"])
AXLES = st.lists(
    st.tuples(ROLES, st.floats(0.01, 9.0), st.none() | st.floats(1.0, 3.5)), min_size=1, max_size=12
)


@given(
    st.sampled_from(["tractor", "truck", "trailer", "dolly"]),
    AXLES,
    st.sampled_from(sorted(SIZES)),
    st.sampled_from(["all", "half", "none"]),
    st.text(max_size=120),
    st.sampled_from(LANGUAGES),
)
@settings(max_examples=150, deadline=None)
def test_the_same_holds_for_vehicles_nobody_thought_of(
    kind: str,
    axles: list[tuple[str, float, float | None]],
    size: str,
    told: str,
    title: str,
    language: str,
) -> None:
    at = 0.0
    built = []
    for number, (role, step, width) in enumerate(axles, 1):
        at += step if number > 1 or kind in ("trailer", "dolly") else 0.0
        built.append(Axle(number, role, at, width))
    one = drawn(Vehicle(kind, tuple(built)), size, told)
    assert faults(plan_view([Panel(one, title)], words_of(language, "in"), title)) == []


def test_a_planted_meeting_is_found() -> None:
    picture = plan_view([Panel(drawn(FLEET["two-axle truck"]))], words_of("en", "in"))
    planted = picture._replace(texts=(*picture.texts, picture.texts[0], ("x", picture.texts[0][1])))
    assert len(faults(planted)) == 3


@given(
    st.lists(st.tuples(st.floats(0, 500), st.floats(5, 60)), min_size=1, max_size=12),
    st.floats(0, 10),
)
def test_stacked_blocks_keep_their_order_and_their_gap(
    blocks: list[tuple[float, float]], gap: float
) -> None:
    anchors = sorted(anchor for anchor, _ in blocks)
    heights = [height for _, height in blocks]
    tops = stacked(anchors, heights, gap, 0.0)
    assert min(tops) >= 0.0
    for upper, height, lower in zip(tops, heights, tops[1:], strict=False):
        assert lower >= upper + height + gap - 1e-6


def test_a_block_that_nothing_presses_stands_at_its_anchor() -> None:
    assert stacked([100.0, 300.0], [20.0, 40.0], 5.0, 0.0) == [90.0, 280.0]


def test_two_blocks_that_would_meet_share_the_shift() -> None:
    """Both 20 high and wanted at 100, with a gap of 4: each moves by 12."""
    assert stacked([100.0, 100.0], [20.0, 20.0], 4.0, 0.0) == [78.0, 102.0]
