"""`/v1/repeatabilities`: what a shop's own readings are good for."""

from typing import Annotated

from litestar import post
from litestar.params import Body

from service.contract.answer_repeatability import repeatability_answer
from service.contract.intake_repeatability import pools_of
from service.contract.repeatabilities import RepeatabilityAnswer, RepeatabilityRequest


@post(
    "/v1/repeatabilities",
    summary="Evaluate repeated readings",
    status_code=200,
    sync_to_thread=False,
)
def evaluate_repeatability(
    data: Annotated[RepeatabilityRequest, Body()],
) -> RepeatabilityAnswer:
    """Repeated hangings and tapings in; standard uncertainties by kind of reading out.

    Repeatability and reproducibility by ISO 5725-2, uncertainty by JCGM 100 (type A). The
    `instrument` of each kind can be pasted into `instruments` of a solution request. What
    repetition repeats, such as a wrong scale, is not seen. Nothing is stored, so a repeated
    request needs no idempotency key.
    """
    return repeatability_answer(data, pools_of(data))
