"""The application: every resource registered in one list, behind one door."""

from collections.abc import Mapping, Sequence
from typing import Any

from litestar import Litestar
from litestar.datastructures import State

from service.api.door import Door
from service.api.failures import handle
from service.api.health import Check, get_liveness, get_readiness
from service.api.routing import Routes
from service.api.target_sets import get_target_set, list_target_sets
from service.api.tyre_sizes import list_tyre_sizes
from service.contract.replies import Reply
from service.contract.strict import StrictRequest
from service.settings import Settings, settings_from

ROUTES: list[Any] = [
    get_liveness,
    get_readiness,
    list_target_sets,
    get_target_set,
    list_tyre_sizes,
]


def create_app(
    settings: Settings | None = None,
    routes: Sequence[Any] = ROUTES,
    readiness: Mapping[str, Check] | None = None,
) -> Door:
    """The ASGI application; `readiness` names what `/health/ready` looks at.

    `routes` differ from `ROUTES` in tests of the door only.
    """
    settings = settings or settings_from()
    app = Litestar(
        routes,
        request_class=StrictRequest,
        response_class=Reply,
        exception_handlers={Exception: handle},
        request_max_body_size=settings.body_limit,
        openapi_config=None,
        state=State({"settings": settings, "readiness": readiness or {}}),
        logging_config=None,
    )
    app.state["routes"] = Routes(app)
    return Door(app)
