"""Real calls with the generated client; prints what was answered as JSON for the test."""

import json
import sys

from axlewright_client import Client
from axlewright_client.api.conversions import convert_toe
from axlewright_client.api.solutions import solve_vehicle
from axlewright_client.models import FrameGapReading, Problem, Solution, SolutionRequest

sent = SolutionRequest.from_dict(json.loads(sys.argv[2]))
client = Client(base_url=sys.argv[1])

solved = solve_vehicle.sync(client=client, body=sent)
assert isinstance(solved, Solution)

converted = convert_toe.sync(client=client, value="1/16", baseline="40.2")
assert converted is not None

axles = [getattr(reading, "axle", None) for reading in sent.readings]
sent.readings = [FrameGapReading(kind="frame_gap", axle=9, left="30", right="30")]
refused = solve_vehicle.sync_detailed(client=client, body=sent)
problem = refused.parsed
assert isinstance(problem, Problem)

print(
    json.dumps(
        {
            "solution": solved.to_dict(),
            "conversion": converted.to_dict(),
            "status": refused.status_code,
            "type": problem.type_,
            "pointers": [error.pointer for error in problem.errors],
            "verdicts": [str(finding.verdict) for finding in solved.findings],
            "axles": axles,
        }
    )
)
