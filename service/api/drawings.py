"""`/v1/drawings`: a vehicle seen from above, drawn from its readings; nothing is stored."""

from collections.abc import Sequence
from typing import Annotated, Any

from litestar import Request, post
from litestar.params import Body

from service.api.sheet_answers import (
    PICTURES,
    SVG,
    AcceptLanguage,
    accepted,
    picture_answer,
    reader_language,
)
from service.api.solved_rounds import SolvedRound, solved_rounds
from service.api.subjects import round_of
from service.contract.drawings import DrawingRequest
from service.contract.problem_catalogue import UNAVAILABLE
from service.contract.replies import Reply
from service.drawing.canvas import Picture
from service.drawing.plan_view import Panel, plan_view
from service.drawing.words import words_of


@post(
    "/v1/drawings",
    summary="Draw a vehicle's geometry in plan",
    status_code=200,
    media_type=SVG,
    response_description="The plan view.",
    opt={
        "produces": PICTURES,
        "problems": (UNAVAILABLE,),
        "headers": ("Content-Language",),
    },
)
async def draw_vehicle(
    data: Annotated[DrawingRequest, Body()],
    request: Request[Any, Any, Any],
    accept_language: AcceptLanguage = None,
) -> Reply[bytes]:
    """Readings of one round in, or of two; the vehicle seen from above out, as SVG or PNG.

    Distances are to scale, aims and offsets enlarged by factors that the drawing states. Every
    number stands with its unit, its direction and its verdict in words, so that the drawing can
    be read in black and white and, in its description, aloud. Two rounds stand side by side.
    `Accept` chooses the media type, `Accept-Language` the language. Nothing is stored, so a
    repeated request needs no idempotency key.
    """
    language = reader_language(accept_language)
    rounds = solved_rounds(data.before, data.after)
    unit = (data.length_unit or data.before.length_unit).value
    picture = plan_view_of(rounds, language, unit, data.title or "")
    return await picture_answer(picture, accepted(request, PICTURES), language, data.width)


def plan_view_of(
    rounds: Sequence[SolvedRound], language: str, unit: str, title: str = ""
) -> Picture:
    """Draw one round, or the first and the last of a visit, lengths in `unit`."""
    words = words_of(language, unit, rounds[0].request.fraction)
    names = [words.say("head.before"), words.say("head.after")] if len(rounds) == 2 else [""]
    panels = [
        Panel(round_of(one.request, one.solution), name)
        for one, name in zip(rounds, names, strict=True)
    ]
    return plan_view(panels, words, title)
