"""Where to go from an answer: OpenAPI links by operation and status."""

from service.contract.schemas import Schema

_BODY_ID = "$response.body#/id"
_ETAG = "$response.header.ETag"
_SAME_ID = "$request.path.id"


def _link(
    operation: str, description: str, body: Schema | None = None, **parameters: str
) -> Schema:
    """A link; `if_match` stands for the header, and `body` for what is known of the request's."""
    if "if_match" in parameters:
        parameters["If-Match"] = parameters.pop("if_match")
    told: Schema = {"operationId": operation, "description": description}
    if parameters:
        told["parameters"] = parameters
    if body is not None:
        # Not `requestBody`: OpenAPI lets it be any value, openapi-generator a text alone, and
        # without a valid document it makes no client.
        told["x-request-body"] = body
    return told


_KEY = {
    "ReadKey": _link("getKey", "Read the key.", id="$response.body#/key/id"),
    "ReplaceKey": _link("rotateKey", "Replace the key.", id="$response.body#/key/id"),
    "RevokeKey": _link("revokeKey", "End the key.", id="$response.body#/key/id"),
}

_VEHICLE = {
    "ReadVehicle": _link("getVehicle", "Read the vehicle.", id=_BODY_ID),
    "ReplaceVehicle": _link("putVehicle", "Change the vehicle.", id=_BODY_ID, if_match=_ETAG),
    "DeleteVehicle": _link("deleteVehicle", "Delete the vehicle.", id=_BODY_ID, if_match=_ETAG),
    "ReadVehicleHistory": _link("getVehicleHistory", "See how it changed.", id=_BODY_ID),
    "PrintBlankWorksheet": _link("getBlankWorksheet", "Print a sheet to fill in.", id=_BODY_ID),
    "OpenVisit": _link("createVisit", "Open a visit.", body={"vehicle_id": _BODY_ID}),
    "ListVisitsOfVehicle": _link("listVisits", "List its visits.", vehicle_id=_BODY_ID),
}

_VISIT = {
    "ReadVisit": _link("getVisit", "Read the visit.", id=_BODY_ID),
    "ReplaceVisit": _link(
        "putVisit",
        "Change what is said of the visit.",
        body={"vehicle_id": "$response.body#/vehicle_id"},
        id=_BODY_ID,
        if_match=_ETAG,
    ),
    "AddRound": _link("createRound", "Add a round of readings.", id=_BODY_ID),
    "PutRound": _link("putRound", "Add a round under the client's own id.", id=_BODY_ID),
    "ListRounds": _link("listRounds", "List its rounds.", id=_BODY_ID),
    "CloseVisit": _link("closeVisit", "Close the visit.", id=_BODY_ID, if_match=_ETAG),
    "ReopenVisit": _link("reopenVisit", "Open it again.", id=_BODY_ID, if_match=_ETAG),
    "DeleteVisit": _link("deleteVisit", "Delete the visit.", id=_BODY_ID, if_match=_ETAG),
    "EstimateVisit": _link("estimateVisit", "Price its plan.", id=_BODY_ID),
    "BillVisit": _link("billVisit", "Bill the work that is proved.", id=_BODY_ID),
    "ListVisitBills": _link("listVisitBills", "List its bills.", id=_BODY_ID),
    "DrawVisit": _link("getVisitPlanView", "See it from above.", id=_BODY_ID),
    "PrintVisit": _link("getVisitWorksheet", "Print its worksheet.", id=_BODY_ID),
    "IssueWorksheet": _link("issueVisitWorksheet", "Keep a worksheet for good.", id=_BODY_ID),
    "ListVisitWorksheets": _link("listVisitWorksheets", "List its worksheets.", id=_BODY_ID),
}

_ROUND = {
    "ReadRound": _link(
        "getRound", "Read the round.", id="$response.body#/visit_id", round_id=_BODY_ID
    ),
    "RepeatRound": _link(
        "putRound", "Send it again.", id="$response.body#/visit_id", round_id=_BODY_ID
    ),
    "BillItsVisit": _link("billVisit", "Bill the visit.", id="$response.body#/visit_id"),
    "PrintItsVisit": _link("getVisitWorksheet", "Print it.", id="$response.body#/visit_id"),
}

_ENDPOINT = {
    "ReadEndpoint": _link("getWebhookEndpoint", "Read it.", id="$response.body#/endpoint/id"),
    "RotateSecret": _link(
        "rotateWebhookSecret", "Make a new secret.", id="$response.body#/endpoint/id"
    ),
}

_STORED_ENDPOINT = {
    "ReplaceEndpoint": _link("putWebhookEndpoint", "Change it.", id=_BODY_ID, if_match=_ETAG),
    "DeleteEndpoint": _link("deleteWebhookEndpoint", "Delete it.", id=_BODY_ID, if_match=_ETAG),
}


def _versioned(name: str) -> dict[str, Schema]:
    """Links of a thing that is kept as versions; `name` is its part of the operations' names."""
    return {
        f"Read{name}": _link(f"get{name}", "Read its newest version.", id=_BODY_ID),
        f"Read{name}Version": _link(
            f"get{name}Version", "Read this version.", id=_BODY_ID, number="$response.body#/version"
        ),
        f"Withdraw{name}": _link(f"withdraw{name}", "Withdraw it.", id=_BODY_ID, if_match=_ETAG),
    }


_TARGET_SET = _versioned("TargetSet")
_RATE_CARD = _versioned("RateCard")

LINKS: dict[tuple[str, str], dict[str, Schema]] = {
    ("listTargetSets", "200"): {
        "ReadTargetSet": _link(
            "getTargetSet", "Read the rows of a listed set.", id="$response.body#/items/0/id"
        )
    },
    ("createKey", "201"): _KEY,
    ("rotateKey", "201"): _KEY,
    ("createVehicle", "201"): _VEHICLE,
    ("getVehicle", "200"): _VEHICLE,
    ("putVehicle", "200"): _VEHICLE,
    ("putVehicle", "201"): _VEHICLE,
    ("deleteVehicle", "204"): {
        "RestoreVehicle": _link("restoreVehicle", "Bring it back.", id=_SAME_ID)
    },
    ("createVisit", "201"): _VISIT,
    ("getVisit", "200"): _VISIT,
    ("putVisit", "200"): _VISIT,
    ("putVisit", "201"): _VISIT,
    ("closeVisit", "200"): _VISIT,
    ("deleteVisit", "204"): {"RestoreVisit": _link("restoreVisit", "Bring it back.", id=_SAME_ID)},
    ("createRound", "201"): _ROUND,
    ("putRound", "201"): _ROUND,
    ("billVisit", "201"): {
        "ReadVisitBill": _link(
            "getVisitBill", "Read the bill.", id="$response.body#/visit_id", list_id=_BODY_ID
        )
    },
    ("issueVisitWorksheet", "201"): {
        "ReadIssuedWorksheet": _link(
            "getIssuedWorksheet", "Read the sheet.", id=_SAME_ID, worksheet_id=_BODY_ID
        )
    },
    ("createWebhookEndpoint", "201"): _ENDPOINT,
    ("rotateWebhookSecret", "201"): _ENDPOINT,
    ("getWebhookEndpoint", "200"): _STORED_ENDPOINT,
    ("putWebhookEndpoint", "200"): _STORED_ENDPOINT,
    ("listWebhookDeliveries", "200"): {
        "ResendDelivery": _link(
            "resendWebhookDelivery", "Push one again.", id="$response.body#/items/0/id"
        )
    },
    ("putTargetSet", "200"): _TARGET_SET,
    ("putTargetSet", "201"): _TARGET_SET,
    ("getTargetSet", "200"): _TARGET_SET,
    ("withdrawTargetSet", "204"): {
        "RestoreTargetSet": _link("restoreTargetSet", "Bring it back.", id=_SAME_ID)
    },
    ("putRateCard", "200"): _RATE_CARD,
    ("putRateCard", "201"): _RATE_CARD,
    ("getRateCard", "200"): _RATE_CARD,
    ("withdrawRateCard", "204"): {
        "RestoreRateCard": _link("restoreRateCard", "Bring it back.", id=_SAME_ID)
    },
}
