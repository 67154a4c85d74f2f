"""`/health/live` and `/health/ready`: for whoever starts, stops and routes to the service."""

import logging
from collections.abc import Awaitable, Callable, Mapping

from litestar import get
from litestar.datastructures import State

import service
from service.contract.health import HealthStatus, Liveness, Readiness
from service.contract.problem_catalogue import UNAVAILABLE
from service.contract.problems import FieldError, ProblemError

_log = logging.getLogger("service")


class NotReadyError(ProblemError):
    """What is not there, asked for by whoever routes requests; the log has said why already."""


Check = Callable[[], Awaitable[None]]
"""One thing the service needs: returns when it is there, raises when it is not."""


@get("/health/live", summary="Say that the process runs", tags=["Operation"])
async def get_liveness() -> Liveness:
    """Answer without looking at anything else: restart the process when this fails."""
    return Liveness(status=HealthStatus.LIVE, version=service.__version__)


@get(
    "/health/ready",
    summary="Say whether requests can be served",
    tags=["Operation"],
    opt={"problems": (UNAVAILABLE,)},
)
async def get_readiness(state: State) -> Readiness:
    """Look at everything the service needs: route no requests here while this is a 503."""
    checks: Mapping[str, Check] = state["readiness"]
    faults = [fault for name, check in checks.items() if (fault := await _fault(name, check))]
    if faults:
        detail = f"Not there: {', '.join(fault.pointer for fault in faults)}."
        raise NotReadyError(UNAVAILABLE, detail, faults, {"Retry-After": "5"})
    return Readiness(status=HealthStatus.READY, checks=list(checks))


async def _fault(name: str, check: Check) -> FieldError | None:
    """What a failed check is told as; the reason itself is the operator's and goes to the log."""
    try:
        await check()
    except Exception as error:
        _log.warning("readiness check %s failed: %r", name, error)
        return FieldError(name, f"The check {name} failed.", "The log says why.")
    return None
