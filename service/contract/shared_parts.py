"""Parts of the OpenAPI document that operations share: tags, headers and error answers."""

from typing import Any

from service.contract.problem_catalogue import KINDS, ProblemKind
from service.contract.problems import PROBLEM_JSON
from service.contract.schemas import REF, Schema

TAGS: list[tuple[str, str]] = [
    ("Solutions", "Readings in, geometry and verdicts out; nothing is stored."),
    ("Conversions", "Toe, thrust, centring, setback and length between the ways of stating them."),
    ("Straight runnings", "How a vehicle with given axle aims runs straight ahead."),
    ("Repeatabilities", "Uncertainty of a shop's own readings from repeated hangings."),
    ("Comparisons", "What changed between two rounds of readings."),
    ("Line items", "Invoice lines from a plan, or from readings before and after the work."),
    ("Vehicles", "The vehicles of a shop, with their axles, and how each changed over time."),
    ("Visits", "Vehicles in the shop, and the rounds of readings taken there."),
    ("Syncs", "A day's offline work, stored in one call."),
    ("Events", "What changed, in the order it was committed."),
    ("Webhook endpoints", "Where events are pushed to, signed by Standard Webhooks."),
    ("Webhook deliveries", "What became of the events that were pushed."),
    ("Keys", "Who may ask in the shop's name, for what and until when."),
    ("Exports", "Everything a shop has stored, to take away."),
    ("Drawings", "A vehicle seen from above, drawn from its readings."),
    ("Worksheets", "Sheets of a measured vehicle to print, to sign and to keep."),
    ("Blank worksheets", "Sheets to take into the yard and fill in by hand."),
    ("Rate cards", "What the shop charges, as versions; each stays for what was billed by it."),
    ("Target sets", "What a quantity should be, for which axles, and who says so."),
    ("Tyre sizes", "Nominal tyre dimensions, a default until the tyres are measured."),
    ("Operation", "For whoever runs the service."),
]
"""Tags in the order of the document; an operation's tag follows from its path."""

HEADERS: dict[str, Schema] = {
    "Request-Id": {
        "description": "The request's id: the UUID sent as `Request-Id`, else one made for it.",
        "required": True,
        "schema": {"type": "string", "format": "uuid"},
    },
    "ETag": {
        "description": "Revision of the thing; send it as `If-Match` to change it.",
        "required": True,
        "schema": {"type": "string", "examples": ['"3"']},
    },
    "Location": {
        "description": "Where the new thing is.",
        "required": True,
        "schema": {"type": "string", "format": "uri-reference"},
    },
    "Content-Language": {
        "description": "Language of the answer, chosen by `Accept-Language`.",
        "required": True,
        "schema": {"type": "string", "examples": ["en", "es", "fr"]},
    },
    "RateLimit": {
        "description": "What is left of the limit that counted the request: `r` requests within "
        "the next `t` seconds (draft-ietf-httpapi-ratelimit-headers). Absent where the operator "
        "set no limit.",
        "schema": {"type": "string", "examples": ['"key";r=5990;t=17']},
    },
    "RateLimit-Policy": {
        "description": "The limit that counted the request: `q` requests in `w` seconds, by "
        "`key` or by `address`. A body counts one request more for each 64 KiB.",
        "schema": {"type": "string", "examples": ['"key";q=6000;w=60']},
    },
    "Idempotent-Replayed": {
        "description": "`true` when this answer was kept from the first request with the key.",
        "schema": {"type": "string", "enum": ["true"]},
    },
}

SECURITY_SCHEMES: dict[str, Schema] = {
    "ShopKey": {
        "type": "http",
        "scheme": "bearer",
        "description": "A key of the shop, as `POST /v1/keys` or `axlewright keys create` shows "
        "it once.",
    }
}

_ONE_IN_WORDS = {
    400: "The request cannot be parsed.",
    401: "A key is needed.",
    403: "The key does not allow this.",
    404: "There is nothing at this address.",
    406: "No answer in a media type that `Accept` admits.",
    408: "The request did not arrive in time.",
    409: "The state of the thing does not allow this.",
    412: "The thing has changed since.",
    413: "The body is too large.",
    415: "The body is in the wrong media type.",
    422: "The body breaks the contract; `errors` names every broken rule.",
    428: "`If-Match` is needed.",
    429: "More was asked than the limit allows.",
    431: "The request's line and headers are too large.",
    500: "The service failed.",
    503: "The service cannot answer now.",
}

_WAIT: Schema = {
    "description": "Seconds to wait.",
    "required": True,
    "schema": {"type": "string", "pattern": "^[0-9]+$"},
}

_OWN_HEADERS: dict[int, dict[str, Schema]] = {
    401: {
        "WWW-Authenticate": {
            "description": "How to say who asks.",
            "required": True,
            "schema": {"type": "string", "const": "Bearer"},
        }
    },
    415: {
        "Accept-Post": {"description": "Media types that are taken.", "schema": {"type": "string"}}
    },
    429: {
        "Retry-After": _WAIT,
        "RateLimit": {"$ref": "#/components/headers/RateLimit"},
        "RateLimit-Policy": {"$ref": "#/components/headers/RateLimit-Policy"},
    },
    503: {"Retry-After": _WAIT},
}

_SHOWN = {400: "malformed-json", 409: "conflict", 422: "incomplete-pair"}


def response_name(status: int) -> str:
    """Component name of the shared answer of a status."""
    return f"Problem{status}"


def responses() -> dict[str, Schema]:
    """`components/responses`: one for every status that a kind of problem has."""
    statuses = sorted({kind.status for kind in KINDS.values()})
    return {response_name(status): _response(status) for status in statuses}


def _response(status: int) -> Schema:
    of_status = [kind for kind in KINDS.values() if kind.status == status]
    shown = next((kind for kind in of_status if kind.slug == _SHOWN.get(status)), of_status[0])
    listed = ", ".join(f"`{kind.type}`" for kind in of_status)
    return {
        "description": f"{_ONE_IN_WORDS.get(status, of_status[0].title)} Kinds: {listed}.",
        "headers": {
            "Request-Id": {"$ref": "#/components/headers/Request-Id"},
            **_OWN_HEADERS.get(status, {}),
        },
        "content": {
            PROBLEM_JSON: {
                "schema": {"$ref": f"{REF}Problem"},
                "examples": {shown.slug: {"summary": shown.title, "value": _sample(shown)}},
            }
        },
    }


def _sample(kind: ProblemKind) -> dict[str, Any]:
    errors = []
    if kind.slug == "incomplete-pair":
        errors = [
            {
                "pointer": "#/readings/0/right",
                "detail": "`left` was given without `right`.",
                "hint": "Give `right` as well, or leave the reading out.",
                "type": kind.type,
            }
        ]
    return {
        "type": kind.type,
        "title": kind.title,
        "status": kind.status,
        "detail": kind.description,
        "instance": "urn:uuid:0190f0c0-0000-8000-8000-000000000001",
        "errors": errors,
    }
