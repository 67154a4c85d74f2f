"""From anything raised behind the door to the problem that the client sees.

Only a `ProblemError` says what it likes. Every other exception is answered in words of this
module, so that no internal text can leave; an unexpected one is logged with its traceback.
"""

import logging
from typing import Any, cast

import msgspec
from litestar import Request
from litestar.exceptions import HTTPException, ValidationException

from service.api.health import NotReadyError
from service.api.parameter_texts import parameter_faults
from service.api.routing import Routes
from service.contract import problem_catalogue as kinds
from service.contract.asgi import Scope
from service.contract.problem_catalogue import ProblemKind
from service.contract.problems import PROBLEM_JSON, Problem, ProblemError
from service.contract.replies import Reply
from service.contract.strict import too_large
from service.store.errors import StoreError

_log = logging.getLogger("service")

_BY_STATUS: dict[int, tuple[ProblemKind, str]] = {
    401: (kinds.UNAUTHORISED, "Send Authorization: Bearer with a key of the shop."),
    403: (kinds.FORBIDDEN, "The key lacks the scope that this needs."),
    404: (kinds.NOT_FOUND, "There is nothing at this address."),
    405: (kinds.NOT_FOUND, "There is nothing at this address."),
    429: (kinds.RATE_LIMITED, "Come again later."),
    503: (kinds.UNAVAILABLE, "Come again in a moment."),
}


def handle(request: Request[Any, Any, Any], error: Exception) -> Reply[Problem]:
    """Litestar's exception handler for everything."""
    return problem_reply(error, cast(Scope, request.scope))


def problem_reply(error: Exception, scope: Scope) -> Reply[Problem]:
    """The answer to a request that raised `error`."""
    problem = error if isinstance(error, ProblemError) else _translated(error, scope)
    request_id: bytes = scope.get("request_id", b"")
    if problem.kind.status >= 500 and not isinstance(problem, NotReadyError):
        why = f": {error.__cause__}" if isinstance(error.__cause__, StoreError) else ""
        told = (problem.kind.slug, request_id.decode(), why)
        _log.error("%s of request %s%s", *told, exc_info=error)
    instance = f"urn:uuid:{request_id.decode()}"
    return Reply(
        msgspec.json.encode(problem.problem(instance)),
        status_code=problem.kind.status,
        media_type=PROBLEM_JSON,
        headers=problem.headers,
    )


def _translated(error: Exception, scope: Scope) -> ProblemError:
    if isinstance(error, HTTPException):
        return _of_framework(error, scope)
    return ProblemError(
        kinds.INTERNAL_ERROR, "The service failed. Report the request id in `instance`."
    )


def _of_framework(error: HTTPException, scope: Scope) -> ProblemError:
    routes: Routes = scope["app"].state["routes"]
    methods = routes.methods(scope["path"]) if error.status_code == 405 else ()
    if methods:
        allowed = ", ".join(methods)
        return ProblemError(
            kinds.METHOD_NOT_ALLOWED,
            f"{scope['method'][:20]} is not taken here. Taken are: {allowed}.",
            headers={"Allow": allowed},
        )
    if error.status_code == 413:
        limit = scope["route_handler"].resolve_request_max_body_size()
        return too_large(limit or 0)
    if isinstance(error, ValidationException):
        return _of_parameters(error, scope, routes)
    if error.status_code == 400:
        detail = "A header of the request cannot be read."
        return ProblemError(kinds.BAD_HEADER, detail)
    kind, detail = _BY_STATUS.get(error.status_code, (kinds.INTERNAL_ERROR, "The service failed."))
    return ProblemError(kind, detail, headers=error.headers)


def _of_parameters(error: ValidationException, scope: Scope, routes: Routes) -> ProblemError:
    """Query, path and header parameters that are missing or that Litestar could not read."""
    handler = scope["route_handler"]
    faults = routes.query_rules(handler).faults(scope["query_string"])
    faults += parameter_faults(error, handler, scope)
    if faults:
        return ProblemError.of_broken_rules(faults)
    return ProblemError(kinds.BAD_HEADER, "A header that is needed is missing or cannot be read.")
