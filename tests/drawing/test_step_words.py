"""Steps of a plan in sentences: every action, side and direction has words in each language."""

import pytest

from service.contract.solution import PlanAction
from service.drawing.step_words import expected_words, step_words
from service.drawing.subject import Expected, Mark, Step
from service.drawing.words import words_of
from service.geometry.planning.scope import CENTRE
from service.locale.catalogue import LANGUAGES

INCH = 0.0254
SIDES = ("left", "right")
CONDITIONS = (
    "rolled_straight", "stopped_gently", "wheels_on_ground", "level_ground", "ride_height_set",
    "tyres_matched", "suspension_sound",
)  # fmt: skip
READINGS = (
    "sightline", "frame_gap", "setback_span", "axle_span", "kingpin_span", "toe_width",
    "toe_scale", "wheel_angle", "caster_sweep", "wedge",
)  # fmt: skip


def every_step() -> list[Step]:
    steps = [Step("inspect", subject=name) for name in CONDITIONS]
    steps += [Step("read", 2, kind, 1 if kind == "axle_span" else None) for kind in READINGS]
    steps += [Step("read", 1, "wheel_angle", side=side) for side in SIDES]
    steps += [Step("centre", 2, direction=way, amount=INCH) for way in SIDES]
    for action in ("aim", "square"):
        for side in SIDES:
            steps.append(Step(action, 2, side=side, ends="both_ends", direction="forward",
                              amount=INCH, at="adjusters"))  # fmt: skip
            steps += [
                Step(action, 2, side=side, ends=f"{side}_end", direction=way, amount=INCH)
                for way in ("forward", "rearward")
            ]
    for side in SIDES:
        steps += [
            Step("match_wedges", 1, side=side, direction=way, amount=0.01, length=False)
            for way in ("forward", "rearward")
        ]
    for way in ("in", "out"):
        steps.append(Step("set_toe", 1, direction=way, amount=0.01, length=False))
        steps.append(Step("set_toe", 1, direction=way, amount=0.01, length=False, turns=0.5))
    return steps


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_step_has_a_sentence_of_its_own(language: str) -> None:
    words = words_of(language, "in")
    told = [step_words(step, words) for step in every_step() if step.action != "square"]
    assert len(set(told)) == len(told)
    assert all(text.endswith((".", ").")) and "{" not in text for text in told)


def test_every_action_of_a_plan_is_among_them() -> None:
    assert {step.action for step in every_step()} == {action.value for action in PlanAction}
    assert CENTRE == "centre"


@pytest.mark.parametrize(
    ("step", "sentence"),
    [
        (
            Step("aim", 3, side="left", ends="both_ends", direction="forward", amount=INCH / 8),
            "Axle 3: move the left end 1/8 in forward and the right end 1/8 in rearward (half of "
            "the difference each, at the axle ends).",
        ),
        (
            Step("aim", 3, side="left", ends="left_end", direction="rearward", amount=INCH / 4,
                 at="adjusters"),
            "Axle 3: move the left end 1/4 in rearward (the whole difference, at the adjusters).",
        ),
        (
            Step("square", 1, side="right", ends="both_ends", direction="forward", amount=INCH / 8,
                 at="tape", spread=33.5 * INCH),
            "Axle 1: move the right end 1/8 in forward and the left end 1/8 in rearward (half of "
            "the difference each, at the points the tape was held to, 33 1/2 in apart).",
        ),
        (
            Step("centre", 2, direction="right", amount=INCH / 4),
            "Axle 2: shift it 1/4 in to the right.",
        ),
        (
            # The nearest 32nd of 0.138 in is 1/8 in, which would not do.
            Step("centre", 2, direction="left", amount=0.138 * INCH, least=0.138 * INCH),
            "Axle 2: shift it 5/32 in to the left.",
        ),
    ],
)  # fmt: skip
def test_a_step_says_which_end_which_way_and_how_far(step: Step, sentence: str) -> None:
    assert step_words(step, words_of("en", "in")) == sentence


@pytest.mark.parametrize(
    ("mark", "told"),
    [
        # The nearest 32nd of 0.1115 in is 1/8 in, which lies beyond the band.
        ((0.1115, 0.0149, 0.1115), "3/32 in (from 1/32 in to 3/32 in)"),
        ((3.4911, 3.4911, 3.8453), "3 1/2 in (from 3 1/2 in to 3 27/32 in)"),
        ((0.6, 0.59, 0.61), "19/32 in"),
        ((-0.1, -0.22, 0.0), "-3/32 in (from -7/32 in to 0 in)"),
        ((0.2, None, 0.2), "3/16 in"),
        ((0.3, 0.29, 0.3), "5/16 in"),
    ],
)
def test_marks_and_bands_are_steps_of_the_scale_with_which_the_step_is_right(
    mark: tuple[float, float | None, float | None], told: str
) -> None:
    value, lower, upper = (None if part is None else part * INCH for part in mark)
    assert value is not None
    expected = Expected("toe_scale", 1, (Mark("toe", value, lower, upper, True),))
    assert expected_words(expected, words_of("en", "in")).endswith(f" {told}.")
