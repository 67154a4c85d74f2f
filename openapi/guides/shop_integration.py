"""A shop system meets Axlewright: a truck comes in, is read, put right, read again and billed.

Plain Python, nothing to install. Truck, shop and prices are invented. It needs

    AXLEWRIGHT_WEBHOOKS_PRIVATE=true axlewright serve
    SHOP_KEY="$(axlewright keys create --new-shop 'Example Frame and Axle (invented)')"

and is then run as `SHOP_KEY=... python shop_integration.py`. SHOP_URL says where the service is, if
not on this machine. Run again, it does all of it for another visit of another truck.
"""

import base64
import hashlib
import hmac
import http.server
import json
import os
import queue
import threading
import time
import urllib.error
import urllib.request
from typing import Any, ClassVar
from uuid import uuid4

URL = os.environ.get("SHOP_URL", "http://127.0.0.1:8410")
KEY = os.environ["SHOP_KEY"]
TRIES = 5
TOLERANCE = 5 * 60
"""Seconds that a message may be old, as Standard Webhooks recommends."""


class RefusedError(Exception):
    """The service understood and said no; `problem` says what is wrong, where, and what to do."""

    def __init__(self, problem: dict[str, Any]) -> None:
        super().__init__(json.dumps(problem, indent=1))
        self.problem = problem


def ask(method: str, path: str, content: Any = None, **headers: str) -> Any:
    """The answer to a request; tried again while nobody answers or the service is busy.

    That is safe: GET and PUT may be repeated by nature, and a POST carries an Idempotency-Key,
    which makes the repeated one be answered as the first was, and not be done again.
    """
    sent = {"Authorization": f"Bearer {KEY}", "Content-Type": "application/json", **headers}
    if method == "POST":
        sent.setdefault("Idempotency-Key", str(uuid4()))
    body = None if content is None else json.dumps(content).encode()
    request = urllib.request.Request(URL + path, body, sent, method=method)
    for rest in reversed(range(TRIES)):
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:
                return json.load(answer)
        except urllib.error.HTTPError as error:
            in_flight = error.code == 409 and "Retry-After" in error.headers
            if not (in_flight or error.code in (429, 502, 503, 504)) or not rest:
                raise RefusedError(json.load(error)) from None
            time.sleep(float(error.headers.get("Retry-After", 1)))
        except (urllib.error.URLError, TimeoutError):
            if not rest:
                raise
            time.sleep(1)
    raise AssertionError("the last try returns or raises")


class Receiver(http.server.BaseHTTPRequestHandler):
    """Takes pushed events; in a shop system this is one more route of its own web server."""

    secret = ""
    told: ClassVar[dict[str, queue.Queue[dict[str, Any]]]] = {}
    """By type: pushes go out side by side, so they need not arrive in the order of the events."""

    def do_POST(self) -> None:
        """Check the signature, keep the event, and answer at once; the work is done later."""
        body = self.rfile.read(int(self.headers["Content-Length"]))
        genuine = is_genuine(self.secret, dict(self.headers.items()), body)
        if genuine:
            event = json.loads(body)
            self.told[event["type"]].put(event)
        self.send_response(204 if genuine else 401)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Say nothing; the events are printed."""


def is_genuine(secret: str, headers: dict[str, str], body: bytes) -> bool:
    """Whether the message is signed with our secret, and fresh (standardwebhooks.com)."""
    named = {name.lower(): value for name, value in headers.items()}
    id, at = named["webhook-id"], named["webhook-timestamp"]
    if abs(time.time() - int(at)) > TOLERANCE:
        return False
    key = base64.b64decode(secret.removeprefix("whsec_"))
    digest = hmac.new(key, f"{id}.{at}.".encode() + body, hashlib.sha256).digest()
    ours = "v1," + base64.b64encode(digest).decode()
    # Several signatures stand there while a secret is being replaced.
    return any(hmac.compare_digest(ours, one) for one in named["webhook-signature"].split(" "))


def receive_events() -> None:
    """Listen on a port of this machine, and tell the service to push there."""
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Receiver)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    wanted = ["round.created", "visit.updated", "line_item_list.created"]
    Receiver.told = {type: queue.Queue() for type in wanted}
    address = f"http://127.0.0.1:{server.server_port}/axlewright"
    made = ask("POST", "/v1/webhook-endpoints", {"url": address, "event_types": wanted})
    Receiver.secret = made["secret"]


def event_of(type: str) -> dict[str, Any]:
    """The next pushed event of a type; queue.Empty if none comes within a minute."""
    return Receiver.told[type].get(timeout=60)


TRUCK = {
    "unit": "tractor",
    "axles": [
        {"number": 1, "role": "steer", "distance": "0", "tyre_diameter": "40 1/4"},
        {"number": 2, "role": "drive", "distance": "175"},
        {"number": 3, "role": "drive", "distance": "227 1/4"},
    ],
}


def readings(left: str, right: str, toe: str) -> list[dict[str, Any]]:
    """A round as the technician reads it: axle 3's sightline and the toe are what changes."""
    return [
        {"kind": "sightline", "axle": 2, "left": "3 9/16", "right": "3 11/16"},
        {"kind": "sightline", "axle": 3, "left": left, "right": right},
        {"kind": "frame_gap", "axle": 1, "left": "22 5/8", "right": "22 5/8"},
        {"kind": "frame_gap", "axle": 2, "left": "30 3/16", "right": "30 3/16"},
        {"kind": "frame_gap", "axle": 3, "left": "30 5/16", "right": "30 1/16"},
        {"kind": "toe_scale", "axle": 1, "toe": toe},
    ]


def rate_card() -> dict[str, Any]:
    """The shop's prices; `code` is the item of the shop's own price list, passed through."""
    measured = {"kind": "flat", "price": {"amount": "95.00", "currency": "USD"}}
    aimed = {"kind": "hours", "hours": "1.25"}
    toe = {"kind": "flat", "price": {"amount": "65.00", "currency": "USD"}}
    return {
        "title": "Alignment (invented)",
        "rate_card": {
            "currency": "USD",
            "rounding": "half_up",
            "labour_rate": {"amount": "128.00", "currency": "USD"},
            "entries": [
                {"operation": "measure", "rate": measured, "code": "AL-100"},
                {"operation": "aim_axle", "rate": aimed, "code": "AL-220"},
                {"operation": "set_toe", "rate": toe, "code": "AL-310"},
            ],
        },
    }


def keep_rate_card() -> None:
    """Store the card under a name; stored already, the same content changes nothing."""
    ask("PUT", "/v1/rate-cards/alignment", rate_card())


def keep_visit() -> str:
    """A truck and its visit; the ids that come back belong beside the shop's own numbers."""
    truck = {"length_unit": "in", "vehicle": TRUCK, "unit_number": f"T-{uuid4().hex[:6]}"}
    vehicle = ask("POST", "/v1/vehicles", truck)
    complaint = {"vehicle_id": vehicle["id"], "complaint": "Pulls right.", "odometer": 412350}
    return str(ask("POST", "/v1/visits", complaint)["id"])


def keep_round(visit: str, label: str, taken: list[dict[str, Any]]) -> dict[str, Any]:
    """Readings solved and stored; what comes back holds geometry, findings and plan."""
    request = {
        "length_unit": "in",
        "target_set": "truck-published",
        "vehicle": TRUCK,
        "readings": taken,
    }
    content = {"label": label, "request": request}
    kept: dict[str, Any] = ask("POST", f"/v1/visits/{visit}/rounds", content)
    return kept


def close(visit: str) -> None:
    """Close the visit as it is; If-Match says which revision we speak of."""
    revision = ask("GET", f"/v1/visits/{visit}")["revision"]
    ask("POST", f"/v1/visits/{visit}/closings", **{"If-Match": f'"{revision}"'})


def show_bill(title: str, bill: dict[str, Any]) -> None:
    """Lines for the invoice; tax is the shop system's matter."""
    print(f"\n{title}")
    for line in bill["lines"]:
        print(f"  {line['code']:<8}{line['amount']['amount']:>9}  {line['text']}")
    print(f"  {'':<8}{bill['total']['amount']:>9}  {bill['total']['currency']}")


def main() -> None:
    """The whole way of a truck through the shop."""
    receive_events()
    keep_rate_card()
    visit = keep_visit()
    before = keep_round(visit, "before", readings("2 9/16", "4 11/16", "3/16"))
    print("What is wrong, and what to do about it")
    for step in before["solution"]["plan"]:
        print(f"  {step['step']}. {step['text']}")
    offer = ask("POST", f"/v1/visits/{visit}/estimates", {"rate_card": "alignment"})
    show_bill("Estimate", offer["bill"])

    # The technician works by the plan and reads again; the shop system hears of it by a push.
    after = keep_round(visit, "after", readings("3 11/16", "3 9/16", "1/16"))
    told = [event_of("round.created") for _ in range(2)]
    assert {event["data"]["id"] for event in told} == {before["id"], after["id"]}
    print("\nPushed: round.created twice, signatures good")
    for finding in after["solution"]["findings"]:
        print(f"  {finding['verdict']:<14}{finding['text']}")

    final = ask("POST", f"/v1/visits/{visit}/line-items", {"rate_card": "alignment"})
    close(visit)
    show_bill(f"Final list {final['number']}, revision {final['revision']}", final["bill"])
    assert event_of("line_item_list.created")["data"]["id"] == final["id"]
    assert event_of("visit.updated")["data"]["id"] == visit
    print("\nPushed: line_item_list.created and visit.updated, signatures good")


if __name__ == "__main__":
    main()
