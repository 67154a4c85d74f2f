// Real calls with the generated client; prints what was answered as JSON for the test to compare.
// The types are half of the proof: this file compiles under `strict` only while unions narrow,
// a problem is typed, and an optional field stays optional.

import createClient from "openapi-fetch";
import type { components, paths } from "./axlewright.js";

declare const process: { argv: string[] };

type Reading = components["schemas"]["Reading"];
type Request = components["schemas"]["SolutionRequest"];

/** Exhaustive: a kind without its case makes `reading` something else than `never` at the end. */
function axleOf(reading: Reading): number {
  switch (reading.kind) {
    case "axle_span":
      return reading.rear_axle;
    case "sightline":
    case "frame_gap":
    case "setback_span":
    case "kingpin_span":
    case "toe_width":
    case "toe_scale":
    case "wheel_angle":
    case "caster_sweep":
    case "wedge":
      return reading.axle;
    default: {
      const none: never = reading;
      return none;
    }
  }
}

const [baseUrl, sent] = [process.argv[2]!, JSON.parse(process.argv[3]!) as Request];
const client = createClient<paths>({ baseUrl });

const solved = await client.POST("/v1/solutions", { body: sent });
if (!solved.data) throw new Error(`not solved: ${solved.error.detail}`);
const verdicts: string[] = solved.data.findings.map((finding) => finding.verdict);

const converted = await client.GET("/v1/conversions/toe", {
  params: { query: { value: "1/16", baseline: "40.2" } },
});
if (!converted.data) throw new Error(`not converted: ${converted.error.detail}`);

// The types would not let this through: the axle is not there, which only the service can know.
const refused = await client.POST("/v1/solutions", {
  body: { ...sent, readings: [{ kind: "frame_gap", axle: 9, left: "30", right: "30" }] },
});
if (!refused.error) throw new Error("a reading of an axle that is not there was solved");
const problem: components["schemas"]["Problem"] = refused.error;

console.log(
  JSON.stringify({
    solution: solved.data,
    conversion: converted.data,
    status: refused.response.status,
    type: problem.type,
    pointers: problem.errors.map((error) => error.pointer),
    verdicts,
    axles: sent.readings.map(axleOf),
  }),
);
