"""Steps of a plan in sentences: every action, side and direction has words in each language."""

import pytest

from service.contract.solution import PlanAction
from service.drawing.step_words import step_words
from service.drawing.subject import Step
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
                              amount=INCH, at_adjusters=True))  # fmt: skip
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
                 at_adjusters=True),
            "Axle 3: move the left end 1/4 in rearward (the whole difference, at the adjusters).",
        ),
        (
            Step("centre", 2, direction="right", amount=INCH / 4),
            "Axle 2: shift it 1/4 in to the right.",
        ),
    ],
)  # fmt: skip
def test_a_step_says_which_end_which_way_and_how_far(step: Step, sentence: str) -> None:
    assert step_words(step, words_of("en", "in")) == sentence
