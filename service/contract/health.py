"""What the health operations answer."""

from enum import StrEnum

from service.contract.base import OpenStruct


class HealthStatus(StrEnum):
    """State of the process (`live`) or of all that it needs (`ready`)."""

    LIVE = "live"
    READY = "ready"


class Liveness(OpenStruct):
    """The process runs and answers."""

    status: HealthStatus
    version: str
    """Version of the service."""


class Readiness(OpenStruct):
    """Everything the service needs is there; otherwise the answer is a 503 problem."""

    status: HealthStatus
    checks: list[str]
    """Names of what was looked at, such as `database`."""
