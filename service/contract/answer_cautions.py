"""What the reader of a solution must know before acting on it."""

from service.contract.answer_estimates import Scale
from service.contract.intake import Intake
from service.contract.problems import pointer_to
from service.contract.solution import Caution, Conditions, SolutionRequest
from service.geometry.plausibility import Doubt, doubts
from service.geometry.solve import Solved
from service.geometry.wording import length_words

WORK_SAFELY = (
    "Chock the wheels and set stands before anything is loosened; torque fasteners by the maker's "
    "book; measure again after tightening and road-test. The vehicle and axle makers' data, local "
    "rules and licensed practice come first."
)

ASKED = {
    "rolled_straight": (
        "The vehicle was not rolled in straight: steer and drive tyres may still hold a side load. "
        "Roll it straight forward several lengths and read again."
    ),
    "stopped_gently": (
        "The vehicle was not let roll to a stop: braking winds the suspension up. "
        "Roll to rest without brakes and read again."
    ),
    "wheels_on_ground": (
        "Wheels were off the ground: an unloaded axle stands elsewhere than a loaded one. "
        "Read with the vehicle's weight on its wheels."
    ),
}
"""Conditions that every reading needs; the others are doubted only when they are denied."""

DENIED = {
    "level_ground": "The ground is not level, which twists frame and suspension.",
    "ride_height_set": "The ride height is not in specification; set it before aligning.",
    "tyres_matched": "Tyres of an axle differ in size or inflation, which tilts and steers it.",
    "suspension_sound": "Suspension parts are worn or loose; repair them before aligning.",
}
DENIED_TEXTS = {**ASKED, **DENIED}

SOUND = Conditions(rolled_straight=True, stopped_gently=True, wheels_on_ground=True)
"""All that every reading needs, and nothing denied: the usual answer, told at one glance."""

UNSAID = (
    "Not stated whether the vehicle was rolled in straight, let roll to a stop and stood on its "
    "wheels; without that the readings may show the tyres' side load rather than the axles."
)


def cautions_of(
    request: SolutionRequest, intake: Intake, solved: Solved, scale: Scale
) -> list[Caution]:
    """Conditions in doubt, results hard to believe, and how to work safely."""
    found = [] if request.conditions == SOUND else _conditions(request.conditions)
    for doubt in doubts(solved):
        found.append(_doubt(doubt, intake, scale))
    found.append(SAFETY)
    return found


def _conditions(conditions: Conditions | None) -> list[Caution]:
    if conditions is None:
        return [Caution(code="conditions-unsaid", pointer=pointer_to("conditions"), text=UNSAID)]
    found = []
    for name, text in DENIED_TEXTS.items():
        if getattr(conditions, name) is False:
            code = f"condition-denied-{name.replace('_', '-')}"
            found.append(Caution(code=code, pointer=pointer_to("conditions", name), text=text))
    if any(getattr(conditions, name) is None for name in ASKED):
        found.append(
            Caution(code="conditions-unsaid", pointer=pointer_to("conditions"), text=UNSAID)
        )
    return found


def _doubt(doubt: Doubt, intake: Intake, scale: Scale) -> Caution:
    if doubt.reading is not None:
        size = length_words(doubt.size, scale.unit, scale.denominator)
        more = "longer" if doubt.size > 0 else "shorter"
        return Caution(
            code=doubt.code,
            pointer=pointer_to("readings", intake.places[doubt.reading]),
            text=f"Both sides of this span are {size} {more} than the axle distances say. "
            "Check the distances, the axle numbers and the points the tape ran between.",
        )
    numbers = [axle.number for axle in intake.vehicle.axles]
    name = doubt.code.removeprefix("implausible-")
    words = scale.words(name, doubt.size) if scale.text else ""
    article = "an" if name == "offset" else "a"
    return Caution(
        code=doubt.code,
        pointer=pointer_to("vehicle", "axles", numbers.index(doubt.axle or 0)),
        text=f"Axle {doubt.axle}: {article} {name} of {words or 'this size'} is possible but "
        "hardly true. Check sides, signs and units of its readings before anything is moved.",
    )


SAFETY = Caution(code="work-safely", pointer=None, text=WORK_SAFELY)
