"""Take readings, solve, show findings. The truck and its readings are invented.

openapi-python-client generate --path openapi.json --output-path axlewright-client
PYTHONPATH=axlewright-client python solve.py http://127.0.0.1:8410
"""

import sys

from axlewright_client import Client
from axlewright_client.api.solutions import solve_vehicle
from axlewright_client.models import (
    Axle,
    AxleRole,
    FrameGapReading,
    LengthUnit,
    Problem,
    SightlineReading,
    Solution,
    SolutionRequest,
    ToeScaleReading,
    Vehicle,
    VehicleKind,
)

REQUEST = SolutionRequest(
    length_unit=LengthUnit.IN,
    vehicle=Vehicle(
        unit=VehicleKind.TRACTOR,
        axles=[
            Axle(number=1, role=AxleRole.STEER, distance="0"),
            Axle(number=2, role=AxleRole.DRIVE, distance="187 1/2"),
        ],
    ),
    readings=[
        SightlineReading(kind="sightline", axle=2, left="3 5/16", right="3 9/16"),
        FrameGapReading(kind="frame_gap", axle=2, left="30 1/8", right="30 3/8"),
        ToeScaleReading(kind="toe_scale", axle=1, toe="3/32", baseline="40.2"),
    ],
)


def main(service: str = "http://127.0.0.1:8410") -> int:
    """Print one line a finding; returns 1 when the service refuses the readings."""
    answer = solve_vehicle.sync(client=Client(base_url=service), body=REQUEST)
    if isinstance(answer, Solution):
        for finding in answer.findings:
            print(f"{finding.verdict}: {finding.text}")
        return 0
    if isinstance(answer, Problem):
        # `type` is the stable name to branch on; `errors` says where and how to write it right.
        print(f"{answer.type_}: {answer.detail}", file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
