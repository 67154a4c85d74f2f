"""Every kind of problem the service can answer with: its address, title, status and meaning.

The address (`type`) and the status of a kind are part of the contract and never change; a title
stays the same from answer to answer, and what differs stands in `detail` and `errors`.
"""

from typing import NamedTuple


class ProblemKind(NamedTuple):
    """One kind of problem (RFC 9457): `type` is `/problems/{slug}`, where its page is served."""

    slug: str
    status: int
    title: str
    description: str

    @property
    def type(self) -> str:
        """The `type` of a problem of this kind, relative to the service."""
        return f"/problems/{self.slug}"


# 400: the request cannot be read.

MALFORMED_JSON = ProblemKind(
    "malformed-json",
    400,
    "The body is not JSON",
    "The body cannot be parsed as JSON (RFC 8259) in UTF-8. Nothing was looked at beyond that. "
    "Common causes: a trailing comma, single quotes, a byte order mark, a cut-off body, a lone "
    "surrogate such as \\ud800.",
)
NON_FINITE_NUMBER = ProblemKind(
    "non-finite-number",
    400,
    "A number is not finite",
    "JSON has no NaN and no Infinity, and a number such as 1e999 is too large to hold. Leave out "
    "what is not known.",
)
DUPLICATE_KEY = ProblemKind(
    "duplicate-key",
    400,
    "A key stands twice in one object",
    "Two members of one object have the same name, so that it is not certain which one was meant.",
)
NESTED_TOO_DEEPLY = ProblemKind(
    "nested-too-deeply",
    400,
    "The body is nested too deeply",
    "Objects and arrays lie deeper in each other than any request of this service needs.",
)
BAD_QUERY = ProblemKind(
    "bad-query",
    400,
    "The query is not right",
    "A query parameter is unknown, missing, given twice or cannot be read. Each is named in "
    "`errors` with a leading question mark, such as `?value`.",
)
BAD_HEADER = ProblemKind(
    "bad-header",
    400,
    "A header is not right",
    "A header of the request cannot be read. It is named in `errors` with a trailing colon, such "
    "as `Content-Length:`.",
)
NOT_HTTP = ProblemKind(
    "not-http",
    400,
    "The request is not HTTP",
    "The bytes that came cannot be read as a request of HTTP/1.1. The connection is closed.",
)

# 401 to 431: who asks, for what, and how.

UNAUTHORISED = ProblemKind(
    "unauthorised",
    401,
    "A key is needed",
    "The request carries no key, or one that is unknown, expired or revoked.",
)
FORBIDDEN = ProblemKind(
    "forbidden",
    403,
    "The key does not allow this",
    "The key is good but lacks the scope that the operation needs.",
)
NOT_FOUND = ProblemKind(
    "not-found",
    404,
    "There is nothing here",
    "The address names nothing, or nothing that this key may know of.",
)
UNKNOWN_TARGET_SET = ProblemKind(
    "unknown-target-set",
    422,
    "There is no such target set",
    "`target_set` names a set that does not exist; `GET /v1/target-sets` lists those that do.",
)
METHOD_NOT_ALLOWED = ProblemKind(
    "method-not-allowed",
    405,
    "The method does not fit the address",
    "The address exists and does not take this method. `Allow` lists those that it takes.",
)
NOT_ACCEPTABLE = ProblemKind(
    "not-acceptable",
    406,
    "No answer in a wanted media type",
    "`Accept` admits no media type that the operation can answer in.",
)
TOO_SLOW = ProblemKind(
    "too-slow",
    408,
    "The request did not arrive in time",
    "The head or the body of the request was sent too slowly. The connection is closed; nothing "
    "was done.",
)
CONFLICT = ProblemKind(
    "conflict",
    409,
    "The state of the thing does not allow this",
    "The request is right in itself and contradicts what is stored.",
)
PRECONDITION_FAILED = ProblemKind(
    "precondition-failed",
    412,
    "The thing has changed since",
    "`If-Match` names a version that is no longer the newest: read it again, then repeat.",
)
BODY_TOO_LARGE = ProblemKind(
    "body-too-large",
    413,
    "The body is too large",
    "The body is larger than the operation takes. It was not read to its end.",
)
UNSUPPORTED_MEDIA_TYPE = ProblemKind(
    "unsupported-media-type",
    415,
    "The body is in the wrong media type",
    "The operation takes JSON in UTF-8, not compressed, and the request says otherwise or does "
    "not say. `Accept-Post` lists what is taken.",
)
PRECONDITION_REQUIRED = ProblemKind(
    "precondition-required",
    428,
    "If-Match is needed",
    "The operation changes a stored thing and needs `If-Match`, so that no change is lost.",
)
RATE_LIMITED = ProblemKind(
    "rate-limited",
    429,
    "Too many requests",
    "More was asked than the limit allows. `Retry-After` says when to come again.",
)
HEAD_TOO_LARGE = ProblemKind(
    "head-too-large",
    431,
    "The headers are too large",
    "The request's line and headers together are larger than the service reads. The connection is "
    "closed.",
)
IDEMPOTENCY_KEY_IN_FLIGHT = ProblemKind(
    "idempotency-key-in-flight",
    409,
    "The first request with this key is not done yet",
    "A request with the same `Idempotency-Key` is being worked on. Wait and repeat it.",
)
IDEMPOTENCY_KEY_REUSED = ProblemKind(
    "idempotency-key-reused",
    422,
    "The key belongs to another request",
    "The same `Idempotency-Key` came before with another body. A new request needs a new key.",
)
IDEMPOTENCY_KEY_REQUIRED = ProblemKind(
    "idempotency-key-required",
    400,
    "Idempotency-Key is needed",
    "The operation creates something and needs an `Idempotency-Key`, so that it can be repeated "
    "safely.",
)

# 422: the body can be read and breaks the contract.

CONTRACT_BROKEN = ProblemKind(
    "contract-broken",
    422,
    "The body breaks the contract",
    "The body is JSON and does not fit the schema of the operation. `errors` names every broken "
    "rule with a JSON pointer.",
)
UNKNOWN_FIELD = ProblemKind(
    "unknown-field",
    422,
    "A field is unknown",
    "Requests are closed: a field that the contract does not name is refused rather than "
    "ignored, so that a misspelt one cannot go unnoticed.",
)
UNKNOWN_READING_KIND = ProblemKind(
    "unknown-reading-kind",
    422,
    "A reading is of no known kind",
    "`kind` of a reading is missing or is none of those in the contract.",
)
AXLE_NOT_FOUND = ProblemKind(
    "axle-not-found",
    422,
    "There is no axle of this number",
    "A reading or a target names an axle number that the vehicle does not have.",
)
INCOMPLETE_PAIR = ProblemKind(
    "incomplete-pair",
    422,
    "A reading lacks its other side",
    "A reading that is taken in pairs has one of its two values only. One side says nothing: "
    "leave the reading out or give both.",
)
NEGATIVE_TAPE_READING = ProblemKind(
    "negative-tape-reading",
    422,
    "A tape cannot read less than nothing",
    "A length that a tape shows is negative. Which side is longer follows from the two values.",
)
BASELINE_MISSING = ProblemKind(
    "baseline-missing",
    422,
    "A toe in length lacks its baseline",
    "A toe given as a length is an angle only over a known baseline: give `baseline` with the "
    "reading or `tyre_diameter` with the axle, or send the toe as an angle or in mm/m.",
)
AXLES_OUT_OF_ORDER = ProblemKind(
    "axles-out-of-order",
    422,
    "Axle distances do not increase",
    "Axles stand front to rear and `distance` counts rearward, so each is larger than the last.",
)
AXLES_IN_ONE_PLACE = ProblemKind(
    "axles-in-one-place",
    422,
    "Two axles stand in one place",
    "Two axles have the same `distance` or the same `number`.",
)
UNREADABLE_TEXT = ProblemKind(
    "unreadable-text",
    422,
    "A reading cannot be read",
    'A length or an angle is not written as the service understands it: `"31 3/4"`, '
    '`"31-3/4 in"`, `"2\' 7 3/4\\""`, `"31.75"`, `"806.5 mm"`, `"0°15\'"`, `"-1/16"`.',
)
TARGET_LIMITS_CROSSED = ProblemKind(
    "target-limits-crossed",
    422,
    "A lower limit lies above its upper limit",
    "`lower` of a target row is larger than `upper`, so that nothing could ever conform.",
)
TOO_MANY_READINGS = ProblemKind(
    "too-many-readings",
    422,
    "There are too many readings",
    "One request takes up to 200 readings.",
)
TOO_MANY_VEHICLES = ProblemKind(
    "too-many-vehicles",
    422,
    "There are too many vehicles",
    "One batch takes up to 5,000 vehicles.",
)
READING_IMPOSSIBLE = ProblemKind(
    "reading-impossible",
    422,
    "A reading cannot be true",
    "No axle can give this reading, such as a difference of two spans that is larger than the "
    "distance between the points they end at.",
)

ADJUSTER_IMPOSSIBLE = ProblemKind(
    "adjuster-impossible",
    422,
    "An adjuster cannot be like this",
    "`adjusters` of an axle describes what no axle has, such as a step of nothing, a negative "
    "travel, or turns of a tie rod without the thread and the arm that tell what a turn does.",
)
NO_EQUILIBRIUM = ProblemKind(
    "no-equilibrium",
    422,
    "The vehicle cannot run straight",
    "No steer angle, and no side force at the pin, makes the side forces of these axles cancel: "
    "their stiffness is nothing or far too small, or they stand where they cannot steady it.",
)

RATE_CARD_UNUSABLE = ProblemKind(
    "rate-card-unusable",
    422,
    "The rate card cannot price",
    "A price, a currency or a rule of the rate card contradicts another or cannot be paid: two "
    "currencies, more decimals than the currency has, an operation priced twice, hours without a "
    "labour rate.",
)
WORK_NOT_BILLABLE = ProblemKind(
    "work-not-billable",
    422,
    "The work cannot be billed as it is sent",
    "The plan, the findings, the waivers or the other work do not hang together, or the day lies "
    "outside the dates of the rate card.",
)

# 5xx: not the client's doing.

INTERNAL_ERROR = ProblemKind(
    "internal-error",
    500,
    "Something went wrong in the service",
    "The fault is the service's. Give the request id in `instance` when you report it.",
)
UNAVAILABLE = ProblemKind(
    "unavailable",
    503,
    "The service cannot answer now",
    "Something the service needs is down or it is full. `Retry-After` says when to come again.",
)

KINDS: dict[str, ProblemKind] = {
    kind.slug: kind for kind in list(globals().values()) if isinstance(kind, ProblemKind)
}
