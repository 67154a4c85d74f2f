"""What a plan view shows: scale, factors, directions, words. Every vehicle is invented."""

import math
import re

import pytest
from drawing.fleet import FLEET, INCH, drawn
from drawing.svg_reading import aims, beam_turns, colours, parsed, texts, wheels

from service.drawing.canvas import ACCENT, INK, PAPER
from service.drawing.plan_view import Panel, plan_view
from service.drawing.stance import AIM_LIMIT, FACTORS, OFFSET_LIMIT, drawn_scale
from service.drawing.subject import Judgement, Measure, Round
from service.drawing.words import words_of
from service.geometry.vehicle import Vehicle

ENGLISH = words_of("en", "in")
TRACTOR = FLEET["three-axle tractor"]


def tractor(**measures: float) -> Round:
    """The third axle's measures, in degrees and inches; the others aim straight and sit centred."""
    told = {name: Measure(_si(name, value)) for name, value in measures.items()}
    return Round(TRACTOR, {3: told}, {}, ())


def _si(name: str, value: float) -> float:
    return value * INCH if name in ("offset", "setback") else math.radians(value)


def factors(svg: str) -> tuple[int, int]:
    """The factors as the drawing states them in words."""
    stated = " ".join(texts(parsed(svg)))
    match = re.search(r"drawn (\d+) times as large as they are, offsets (\d+) times", stated)
    assert match, stated
    return int(match[1]), int(match[2])


@pytest.mark.parametrize("name", FLEET)
def test_axles_stand_to_scale_along_the_frame(name: str) -> None:
    """One scale for the distances of all axles; the drawing's numbers have one decimal."""
    vehicle = FLEET[name]
    placed = wheels(parsed(plan_view([Panel(Round(vehicle))], ENGLISH).svg))
    assert len(placed) == 2 * len(vehicle.axles)
    scale = drawn_scale([Round(vehicle)]).per_metre
    first = placed[0].y - vehicle.axles[0].distance * scale
    for axle, left, right in zip(vehicle.axles, placed[::2], placed[1::2], strict=True):
        assert left.y == right.y == pytest.approx(first + axle.distance * scale, abs=0.11)


def test_what_is_further_back_is_drawn_further_down() -> None:
    placed = wheels(parsed(plan_view([Panel(Round(TRACTOR))], ENGLISH).svg))
    assert placed[0].y < placed[2].y < placed[4].y
    assert placed[0].x < placed[1].x


@pytest.mark.parametrize("thrust", [0.31, -0.31, 0.04, -2.0])
def test_an_aim_is_drawn_the_stated_number_of_times_as_large(thrust: float) -> None:
    svg = plan_view([Panel(tractor(thrust=thrust))], ENGLISH).svg
    (aim,) = aims(parsed(svg))
    assert aim.turn == pytest.approx(factors(svg)[0] * thrust, abs=0.006)
    assert beam_turns(parsed(svg))[2] == pytest.approx(aim.turn, abs=0.2)


@pytest.mark.parametrize("offset", [0.25, -0.25, 1.5, -3.0])
def test_an_offset_is_drawn_the_stated_number_of_times_as_large(offset: float) -> None:
    one = tractor(offset=offset)
    picture = plan_view([Panel(one)], ENGLISH)
    placed = wheels(parsed(picture.svg))
    centre = (placed[0].x + placed[1].x) / 2
    shift = (placed[4].x + placed[5].x) / 2 - centre
    per_metre = drawn_scale([one]).per_metre
    expected = factors(picture.svg)[1] * offset * INCH * per_metre
    assert shift == pytest.approx(expected, abs=0.11)


@pytest.mark.parametrize("thrust", [0.01, 0.1, 0.5, 1.0, 4.0])
def test_the_largest_aim_can_be_seen_and_stays_on_the_sheet(thrust: float) -> None:
    """As large as the limit allows, unless the largest factor is already in use."""
    drawn_as = drawn_scale([tractor(thrust=thrust)])
    shown = drawn_as.aim_factor * math.radians(thrust)
    assert shown <= AIM_LIMIT
    if drawn_as.aim_factor != FACTORS[0]:
        assert shown > AIM_LIMIT / 2.6


def test_the_largest_offset_can_be_seen_and_stays_on_the_sheet() -> None:
    for inches in (0.05, 0.125, 0.4, 1.0, 4.0):
        drawn_as = drawn_scale([tractor(offset=inches)])
        shown = drawn_as.offset_factor * inches * INCH * drawn_as.per_metre
        assert OFFSET_LIMIT / 2.6 < shown <= OFFSET_LIMIT


def test_both_rounds_are_drawn_by_one_pair_of_factors() -> None:
    """The small aim after the work must look small beside the large one before it."""
    panels = [Panel(tractor(thrust=0.8), "Before"), Panel(tractor(thrust=0.02), "After")]
    before, after = aims(parsed(plan_view(panels, ENGLISH).svg))
    assert before.turn == pytest.approx(40 * after.turn, rel=0.02)


def test_toe_in_turns_the_front_of_both_wheels_inward() -> None:
    one = Round(TRACTOR, {1: {"toe": Measure(math.radians(0.2))}})
    left, right = wheels(parsed(plan_view([Panel(one)], ENGLISH).svg))[:2]
    assert left.turn > 0 > right.turn
    assert left.turn == -right.turn


def test_a_steer_axle_whose_right_end_is_further_back_is_drawn_so() -> None:
    one = Round(TRACTOR, {1: {"skew": Measure(math.radians(0.2))}})
    left, right = wheels(parsed(plan_view([Panel(one)], ENGLISH).svg))[:2]
    assert right.y > left.y


def mirrored(one: Round) -> Round:
    """Every measure with its sign turned; toe alone is the same seen in a mirror."""
    return one._replace(
        axles={
            axle: {
                name: m if name == "toe" else m._replace(value=-m.value) for name, m in told.items()
            }
            for axle, told in one.axles.items()
        },
        pairs={},
        findings=(),
    )


@pytest.mark.parametrize("name", FLEET)
def test_a_mirrored_vehicle_is_drawn_as_its_mirror_image(name: str) -> None:
    one = drawn(FLEET[name])._replace(pairs={}, findings=())
    straight = wheels(parsed(plan_view([Panel(one)], ENGLISH).svg))
    turned = wheels(parsed(plan_view([Panel(mirrored(one))], ENGLISH).svg))
    centre = (straight[0].x + turned[1].x) / 2
    for place in range(0, len(straight), 2):
        left, right = straight[place], turned[place + 1]
        assert left.x - centre == pytest.approx(centre - right.x, abs=0.11)
        assert left.y == pytest.approx(right.y, abs=0.11)
        assert left.turn == pytest.approx(-right.turn, abs=0.011)


def test_every_number_stands_with_its_unit_its_direction_and_its_verdict() -> None:
    measure = Measure(math.radians(0.31), 0.0005)
    finding = Judgement("thrust-3", "thrust", 3, None, measure, 0.0, -0.003, 0.003,
                        "nonconforming", 0.001, "invented")  # fmt: skip
    one = Round(TRACTOR, {3: {"thrust": measure, "offset": Measure(3 / 8 * INCH)}}, {}, (finding,))
    shown = texts(parsed(plan_view([Panel(one)], ENGLISH).svg))
    assert "Offset: 3/8 in right; no target" in shown
    place = shown.index("Thrust: 0.31° right")
    assert shown[place + 1] == "does not conform"


def test_what_does_not_conform_is_told_by_weight_and_words_not_by_colour() -> None:
    root = parsed(plan_view([Panel(drawn(TRACTOR))], ENGLISH).svg)
    bold = {
        "".join(node.itertext())
        for node in root.iter()
        if node.get("font-weight") == "bold" and "conform" in "".join(node.itertext())
    }
    assert bold == {"does not conform"}
    assert colours(root) == {INK, ACCENT, PAPER}


@pytest.mark.parametrize(("kind", "name"), [("trailer", "Kingpin"), ("dolly", "Drawbar eye")])
def test_what_is_towed_shows_the_pin_it_is_drawn_by(kind: str, name: str) -> None:
    vehicle = FLEET[f"tandem {kind}"]
    assert name in texts(parsed(plan_view([Panel(Round(vehicle))], ENGLISH).svg))


def test_distances_are_given_from_the_reference_point_on() -> None:
    shown = texts(parsed(plan_view([Panel(Round(FLEET["tandem trailer"]))], ENGLISH).svg))
    assert [text for text in shown if re.fullmatch(r"\d+ in", text)] == ["390 in", "50 in"]


@pytest.mark.parametrize("name", FLEET)
def test_a_vehicle_that_was_not_read_is_drawn_in_broken_lines_and_said_to_be(name: str) -> None:
    svg = plan_view([Panel(Round(FLEET[name]))], ENGLISH).svg
    shown = texts(parsed(svg))
    assert shown.count("not read") == len(FLEET[name].axles)
    assert "Broken lines: not read." in " ".join(shown)
    assert svg.count('stroke-dasharray="4 3"') == 3 * len(FLEET[name].axles)


def test_a_drawing_cut_to_the_sheet_says_so() -> None:
    picture = plan_view([Panel(drawn(TRACTOR, "absurd"))], ENGLISH)
    assert "drawn shorter" in " ".join(texts(parsed(picture.svg)))
    assert all(abs(wheel.turn) <= 20.0 for wheel in wheels(parsed(picture.svg)))


def test_title_and_description_say_in_sentences_what_the_drawing_shows() -> None:
    panels = [Panel(drawn(TRACTOR), "Before"), Panel(drawn(TRACTOR), "After")]
    picture = plan_view(panels, ENGLISH, "Unit 4711")
    root = parsed(picture.svg)
    title, description = root[0], root[1]
    assert title.text == "Unit 4711: Plan view, Tractor"
    assert root.get("aria-labelledby") == f"{title.get('id')} {description.get('id')}"
    told = description.text or ""
    assert "Before. Axle 1, steer: Offset: 1/8 in right, conforms;" in told
    assert "Scrub with axle 2" in told
    assert told.count("After.") == 1


def test_two_drawings_in_one_page_have_ids_of_their_own() -> None:
    ids = [
        set(re.findall(r'id="([^"]+)"', plan_view([Panel(Round(TRACTOR))], ENGLISH, "", name).svg))
        for name in ("a", "b")
    ]
    assert ids[0].isdisjoint(ids[1])


def test_a_steer_axle_shows_no_aim_of_its_own_unless_its_wheels_were_read() -> None:
    one = Round(
        Vehicle("truck", FLEET["twin-steer truck"].axles),
        {2: {"toe": Measure(0.001), "offset": Measure(0.001)}},
    )
    assert aims(parsed(plan_view([Panel(one)], ENGLISH).svg)) == []
