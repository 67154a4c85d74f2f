"""Where to go from an answer: OpenAPI links by operation and status."""

from service.contract.schemas import Schema

LINKS: dict[tuple[str, str], dict[str, Schema]] = {
    ("listTargetSets", "200"): {
        "ReadTargetSet": {
            "operationId": "getTargetSet",
            "parameters": {"id": "$response.body#/items/0/id"},
            "description": "Read the rows of a listed set.",
        }
    },
}
