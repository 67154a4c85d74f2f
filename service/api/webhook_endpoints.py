"""`/v1/webhook-endpoints` and `/v1/webhook-deliveries`: where events are pushed, and what came
of it."""

from datetime import timedelta
from typing import Annotated, Any

import msgspec
from litestar import delete, get, post, put
from litestar.params import Body, QueryParameter

from service.api import outbound
from service.api.access import needs
from service.api.storing import (
    Answer,
    AnyRequest,
    IdempotencyKey,
    IfMatch,
    LimitQuery,
    ThingId,
    answered,
    etag,
    needed_revision,
    once,
    read,
    write,
)
from service.contract.problem_catalogue import CONFLICT, CONTRACT_BROKEN
from service.contract.problems import ProblemError, field_error
from service.contract.replies import Reply
from service.contract.webhooks import (
    DeliveryList,
    DeliveryState,
    EndpointContent,
    EndpointList,
    NewEndpoint,
    SecretRotationRequest,
    StoredDelivery,
    StoredEndpoint,
)
from service.settings import Settings
from service.store import webhook_secrets, webhooks
from service.store.events import last_sequence
from service.store.scope import ShopScope
from service.store.webhooks import ENDPOINTS, DeliveryRecord, EndpointRecord

_STATE = QueryParameter(name="state", description="Only deliveries in this state.")


@post(
    "/v1/webhook-endpoints",
    summary="Add a webhook endpoint",
    **needs(
        "admin",
        CONFLICT,
        headers=("ETag", "Location", "Idempotent-Replayed"),
        requires=("Idempotency-Key",),
    ),
)
async def create_webhook_endpoint(
    request: AnyRequest,
    data: Annotated[EndpointContent, Body()],
    idempotency_key: IdempotencyKey = None,
) -> Reply[NewEndpoint]:
    """Push the events from now on to an address; its secret is answered here."""
    _require_callable(request, data.url)

    def work(scope: ShopScope) -> Answer:
        secrets = webhook_secrets.begin(scope.now)
        made = ENDPOINTS.create(
            scope,
            {
                **_content(data),
                "secrets": webhook_secrets.encode(secrets),
                "seen": last_sequence(scope),
            },
        )
        content = NewEndpoint(endpoint=shown(made), secret=secrets[0].text)
        at = f"/v1/webhook-endpoints/{made.id}"
        answer = answered(content, status=201, revision=1, at=at)
        return answer._replace(headers={**answer.headers, "Cache-Control": "no-store"})

    return await once(request, idempotency_key, work)


@get("/v1/webhook-endpoints", summary="List the webhook endpoints", **needs("admin"))
async def list_webhook_endpoints(request: AnyRequest) -> EndpointList:
    """The shop's endpoints without their secrets, oldest first."""
    found = await read(request, webhooks.endpoints)
    return EndpointList(items=[shown(record) for record in found])


@get(
    "/v1/webhook-endpoints/{id:uuid}",
    summary="Read a webhook endpoint",
    **needs("admin", headers=("ETag",)),
)
async def get_webhook_endpoint(request: AnyRequest, id: ThingId) -> Reply[StoredEndpoint]:
    """An endpoint without its secret, with its ETag for a change."""
    record = await read(request, lambda scope: ENDPOINTS.get(scope, id))
    return Reply(shown(record), headers={"ETag": etag(record.revision)})


@put(
    "/v1/webhook-endpoints/{id:uuid}",
    summary="Change a webhook endpoint",
    **needs("admin", headers=("ETag",), requires=("If-Match",)),
)
async def put_webhook_endpoint(
    request: AnyRequest,
    id: ThingId,
    data: Annotated[EndpointContent, Body()],
    if_match: IfMatch = None,
) -> Reply[StoredEndpoint]:
    """Replace what is said of an endpoint; its secret stays."""
    _require_callable(request, data.url)
    revision = needed_revision(if_match)
    record = await write(
        request, lambda scope: ENDPOINTS.change(scope, id, revision, _content(data))
    )
    return Reply(shown(record), headers={"ETag": etag(record.revision)})


@delete(
    "/v1/webhook-endpoints/{id:uuid}",
    summary="Remove an endpoint",
    **needs("admin", requires=("If-Match",)),
)
async def delete_webhook_endpoint(
    request: AnyRequest, id: ThingId, if_match: IfMatch = None
) -> None:
    """Push no more events there."""
    revision = needed_revision(if_match)
    await write(request, lambda scope: ENDPOINTS.delete(scope, id, revision))


@post(
    "/v1/webhook-endpoints/{id:uuid}/rotations",
    summary="Replace an endpoint's secret",
    **needs("admin", headers=("ETag",)),
)
async def rotate_webhook_secret(
    request: AnyRequest, id: ThingId, data: Annotated[SecretRotationRequest, Body()]
) -> Reply[NewEndpoint]:
    """Make a new secret; until the overlap ends, messages are signed with both."""
    overlap = timedelta(minutes=data.overlap_minutes)

    def work(scope: ShopScope) -> NewEndpoint:
        found = ENDPOINTS.get(scope, id)
        secrets = webhook_secrets.rotated(found.secrets, scope.now, overlap)
        change = {"secrets": webhook_secrets.encode(secrets)}
        made = ENDPOINTS.change(scope, id, found.revision, change)
        return NewEndpoint(endpoint=shown(made), secret=secrets[0].text)

    content = await write(request, work)
    headers = {"ETag": etag(content.endpoint.revision), "Cache-Control": "no-store"}
    return Reply(content, status_code=201, headers=headers)


@get("/v1/webhook-deliveries", summary="List deliveries", **needs("admin"))
async def list_webhook_deliveries(
    request: AnyRequest,
    delivery_state: Annotated[DeliveryState, _STATE] = DeliveryState.DEAD,
    limit: LimitQuery = 50,
) -> DeliveryList:
    """Deliveries of one state, newest first; without `state` the dead ones."""
    state = delivery_state.value
    found = await read(request, lambda scope: webhooks.deliveries(scope, state, limit))
    return DeliveryList(items=[_delivery(record) for record in found])


@post(
    "/v1/webhook-deliveries/{id:uuid}/resends",
    summary="Send a delivery again",
    status_code=200,
    **needs("admin"),
)
async def resend_webhook_delivery(request: AnyRequest, id: ThingId) -> StoredDelivery:
    """Make a dead or delivered event due at once, with all its tries before it."""
    return _delivery(await write(request, lambda scope: webhooks.resend(scope, id)))


def _require_callable(request: AnyRequest, url: str) -> None:
    """Refuse an address that is never called, by the rules of the calling itself."""
    settings: Settings = request.app.state["settings"]
    try:
        outbound.callee(url, allow_private=settings.webhooks_private)
    except outbound.RefusedAddressError as refused:
        detail = f"No events are sent there: {refused}."
        fault = field_error(CONTRACT_BROKEN, "#/url", detail, refused.hint)
        raise ProblemError.of_broken_rules([fault]) from None


def _content(data: EndpointContent) -> dict[str, Any]:
    return {
        "url": data.url,
        "description": data.description or "",
        "event_types": msgspec.json.encode(data.event_types),
        "enabled": data.enabled,
    }


def shown(record: EndpointRecord) -> StoredEndpoint:
    """An endpoint as it is answered."""
    return StoredEndpoint(
        id=record.id,
        revision=record.revision,
        url=record.url,
        event_types=msgspec.json.decode(record.event_types, type=list[str]),
        description=record.description or None,
        enabled=record.enabled,
        created_at=record.created_at,
        updated_at=record.updated_at,
    )


def _delivery(record: DeliveryRecord) -> StoredDelivery:
    return StoredDelivery(
        id=record.id,
        endpoint_id=record.endpoint_id,
        event_sequence=record.sequence,
        state=DeliveryState(record.state),
        attempts=record.attempts,
        next_attempt_at=record.next_attempt_at,
        last_status=record.last_status,
        last_error=record.last_error,
        created_at=record.created_at,
        updated_at=record.updated_at,
    )
