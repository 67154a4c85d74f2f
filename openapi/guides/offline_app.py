"""A phone in a yard without reception: work is kept on it first, and sent when there is a network.

Plain Python in place of the app's own language; truck and shop are invented. It needs a serving
Axlewright and a key, as `shop_integration.py` does, and shows what happens

1. when a day's work is sent whose answer is lost on the way, and so is sent again;
2. when two people changed the same visit, one of them without a network.
"""

import json
import sqlite3
from typing import Any
from uuid import uuid4

from shop_integration import TRUCK, ask, readings

AT_A_TIME = 500
"""Items that one call to `/v1/syncs` may hold."""
OF_A_VISIT = (
    "vehicle_id",
    "visited_at",
    "odometer",
    "odometer_unit",
    "complaint",
    "technician",
    "pre_checks",
    "conditions",
    "notes",
)
"""What a client says of a visit; the rest of an answer is the service's own."""


class Phone:
    """What the app keeps: an outbox of things done, in the order they were done."""

    def __init__(self, file: str = ":memory:") -> None:
        self.kept = sqlite3.connect(file)
        self.kept.execute(
            "CREATE TABLE IF NOT EXISTS outbox (n INTEGER PRIMARY KEY, id TEXT UNIQUE, item TEXT)"
        )

    def do(self, item: dict[str, Any]) -> None:
        """Keep a thing that was done; it is on the phone's disk when this returns.

        A change of what still waits takes its place: two changes that name the same revision
        would stand in each other's way.
        """
        with self.kept:
            self.kept.execute(
                "INSERT INTO outbox (id, item) VALUES (?, ?) "
                "ON CONFLICT (id) DO UPDATE SET item = excluded.item",
                (item["id"], json.dumps(item)),
            )

    def waiting(self) -> list[str]:
        """What was not yet acknowledged, oldest first, each as JSON."""
        query = "SELECT item FROM outbox ORDER BY n LIMIT ?"
        return [item for (item,) in self.kept.execute(query, (AT_A_TIME,))]

    def send(self, *, answer_is_lost: bool = False) -> list[dict[str, Any]]:
        """Send what waits; returns what the service refused, each with its problem.

        An item leaves the outbox only when its own answer has arrived. Ids were made here, so
        that whatever is sent a second time is known to the service and changes nothing.
        """
        sent = self.waiting()
        answer = ask("POST", "/v1/syncs", {"items": [json.loads(item) for item in sent]})
        if answer_is_lost:
            return []
        with self.kept:  # what was changed while it was on its way stays, to be sent next time
            self.kept.executemany("DELETE FROM outbox WHERE item = ?", [(item,) for item in sent])
        return [result for result in answer["items"] if result["status"] >= 400]


def work_of_a_day() -> tuple[Phone, str]:
    """A truck, its visit and a round, all made without a network under ids of the phone's own."""
    phone, vehicle, visit = Phone(), str(uuid4()), str(uuid4())
    truck = {"length_unit": "in", "vehicle": TRUCK, "unit_number": f"Y-{vehicle[:6]}"}
    request = {
        "length_unit": "in",
        "target_set": "truck-published",
        "vehicle": TRUCK,
        "readings": readings("2 9/16", "4 11/16", "3/16"),
    }
    taken = {"label": "before", "taken_at": "2026-03-14T09:05:00-06:00", "request": request}
    said = {"vehicle_id": vehicle, "visited_at": "2026-03-14T08:30:00-06:00"}
    phone.do({"kind": "vehicle", "id": vehicle, "content": truck})
    phone.do({"kind": "visit", "id": visit, "content": said})
    phone.do({"kind": "round", "id": str(uuid4()), "visit_id": visit, "content": taken})
    return phone, visit


def with_changes(visit: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """What a client says of a visit, with changes to what it read."""
    return {name: visit[name] for name in OF_A_VISIT} | changes


def change_offline(phone: Phone, read: dict[str, Any], changes: dict[str, Any]) -> None:
    """Keep a change for later, with the revision that the person saw when making it."""
    content = with_changes(read, changes)
    item = {"kind": "visit", "id": read["id"], "revision": read["revision"], "content": content}
    phone.do(item)


def settle(phone: Phone, refused: dict[str, Any], changes: dict[str, Any]) -> None:
    """Put the person's changes onto what is there now; what they did not touch stays as it is.

    Where both changed the same field, an app shows both and asks.
    """
    assert refused["problem"]["type"] == "/problems/precondition-failed", refused
    now = ask("GET", f"/v1/visits/{refused['id']}")
    change_offline(phone, now, changes)


def main() -> None:
    """Both cases, one after the other."""
    phone, visit = work_of_a_day()
    phone.send(answer_is_lost=True)
    print(f"The answer was lost: {len(phone.waiting())} items still wait, and are sent again")
    assert phone.send() == []
    rounds = ask("GET", f"/v1/visits/{visit}/rounds")["items"]
    print(f"All of them acknowledged: {len(phone.waiting())} wait, rounds stored: {len(rounds)}")
    assert len(rounds) == 1

    read = ask("GET", f"/v1/visits/{visit}")
    mine = {"technician": "R. Example", "notes": "Torque rod replaced."}
    change_offline(phone, read, mine)
    at_the_desk = with_changes(read, {"complaint": "Pulls right.", "odometer": 412350})
    etag = {"If-Match": f'"{read["revision"]}"'}
    ask("PUT", f"/v1/visits/{visit}", at_the_desk, **etag)
    [refused] = phone.send()
    print(f"The desk was first: {refused['problem']['detail']}")
    settle(phone, refused, mine)
    phone.send(answer_is_lost=True)
    assert phone.send() == []
    now = ask("GET", f"/v1/visits/{visit}")
    print(f"Settled: complaint {now['complaint']!r}, notes {now['notes']!r}")
    assert (now["complaint"], now["notes"]) == ("Pulls right.", "Torque rod replaced.")


if __name__ == "__main__":
    main()
