"""The application: every resource registered in one list, behind one door."""

from collections.abc import Mapping, Sequence
from functools import cache
from hashlib import sha256
from typing import Any

import msgspec
from litestar import Litestar
from litestar.datastructures import State
from litestar.plugins import PluginProtocol
from litestar.plugins.core import MsgspecDIPlugin

from service.api import conversions
from service.api.access import admit_computing
from service.api.comparisons import compare_rounds
from service.api.docs import get_docs, get_docs_part
from service.api.door import Door
from service.api.drawings import draw_vehicle
from service.api.failures import handle
from service.api.health import Check, get_liveness, get_readiness
from service.api.line_items import price_work
from service.api.metrics_page import MetricsPage, get_metrics
from service.api.openapi import get_openapi, get_page_document
from service.api.problem_pages import get_problem_page, list_problem_pages
from service.api.repeatabilities import evaluate_repeatability
from service.api.routing import Routes
from service.api.solution_batches import solve_batch
from service.api.solutions import solve_vehicle
from service.api.stored import ROUTES as STORED_ROUTES
from service.api.stored import Stored, attach
from service.api.straight_runnings import find_straight_running
from service.api.target_sets import get_target_set, list_target_sets
from service.api.tyre_sizes import list_tyre_sizes
from service.api.watch import Watch
from service.api.worksheets import print_blank_worksheet, print_worksheet
from service.contract.replies import Reply
from service.contract.strict import StrictRequest
from service.setting_sources import settings_from
from service.settings import Settings

ROUTES: list[Any] = [
    solve_vehicle,
    solve_batch,
    compare_rounds,
    find_straight_running,
    evaluate_repeatability,
    price_work,
    draw_vehicle,
    print_worksheet,
    print_blank_worksheet,
    conversions.convert_toe,
    conversions.convert_thrust,
    conversions.convert_length,
    conversions.convert_offset,
    conversions.convert_setback,
    list_target_sets,
    get_target_set,
    list_tyre_sizes,
    get_liveness,
    get_readiness,
    get_openapi,
    get_page_document,
    get_docs,
    get_docs_part,
    list_problem_pages,
    get_problem_page,
]


EVERY_ROUTE: list[Any] = [*ROUTES, *STORED_ROUTES]


def create_app(
    settings: Settings | None = None,
    routes: Sequence[Any] = EVERY_ROUTE,
    readiness: Mapping[str, Check] | None = None,
) -> Door:
    """The ASGI application; `readiness` names what `/health/ready` looks at.

    `routes` differ from `ROUTES` in tests of the door only.
    """
    settings = settings or settings_from()
    stored = Stored(settings)
    watch = Watch(settings)
    watch.store = stored.store
    app = _Litestar(
        [*routes, get_metrics],
        request_class=StrictRequest,
        response_class=Reply,
        exception_handlers={Exception: handle},
        request_max_body_size=settings.body_limit,
        openapi_config=None,
        state=State(
            {
                "settings": settings,
                "readiness": {**stored.checks(), "accepting": watch.accepting}
                if readiness is None
                else readiness,
                "metrics_page": MetricsPage(watch, settings.metrics_from),
                "document": _tagged_document,
                "page_document": _tagged_page_document,
            }
        ),
        before_request=None if settings.open_for_computing() else admit_computing,
        lifespan=[stored.lifespan, watch.lifespan],
        logging_config=None,
    )
    attach(app, stored.store)
    app.state["routes"] = Routes(app)
    return Door(app, watch)


class _Litestar(Litestar):
    """Litestar without its plugins for pydantic and attrs, which it would import where they are.

    Wherever a tool has brought pydantic along, that took a third of a second of the start and
    15 MB of memory; the service has no use for it.
    """

    @staticmethod
    def _get_default_plugins(plugins: list[PluginProtocol]) -> list[PluginProtocol]:
        return [*plugins, MsgspecDIPlugin()]


def document() -> dict[str, Any]:
    """The OpenAPI document of the service."""
    # Imported here: no other request needs it, and it would double the time to the first answer.
    from service.contract.document import build_document

    return build_document(EVERY_ROUTE)


@cache
def document_bytes() -> bytes:
    """The document as `/openapi.json` serves it and `openapi/openapi.json` keeps it."""
    return msgspec.json.format(msgspec.json.encode(document()), indent=2) + b"\n"


@cache
def _tagged_document() -> tuple[bytes, str]:
    return _tagged(document_bytes())


@cache
def _tagged_page_document() -> tuple[bytes, str]:
    from service.contract.page_document import page_document

    return _tagged(msgspec.json.encode(page_document(document())))


def _tagged(body: bytes) -> tuple[bytes, str]:
    return body, f'"{sha256(body).hexdigest()[:32]}"'
