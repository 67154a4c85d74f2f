"""The contract as the page at `/docs` reads it: its samples of requests lie elsewhere.

In the contract they stand in the schema of a body, since openapi-generator warns of others. The
page overlooks what stands beside a `$ref`; beside the schema it offers each by its name.
"""

from copy import deepcopy
from typing import Any

from service.contract.examples import examples
from service.contract.schemas import REF


def page_document(document: dict[str, Any]) -> dict[str, Any]:
    """The same document with the samples of requests where the page looks for them."""
    moved = deepcopy(document)
    for item in moved["paths"].values():
        for operation in item.values():
            for media in operation.get("requestBody", {}).get("content", {}).values():
                if media["schema"].pop("examples", None):
                    component = media["schema"]["$ref"].removeprefix(REF)
                    media["examples"] = examples({component: {}})[component]
    return moved
