// Take readings, solve, show findings. The truck and its readings are invented.
//
//   npx openapi-typescript openapi.json -o axlewright.d.ts --default-non-nullable=false
//   npx tsc --strict --module nodenext --outDir build solve.ts
//   node build/solve.js http://127.0.0.1:8410

import createClient from "openapi-fetch";
import type { components, paths } from "./axlewright.js";

declare const process: { argv: string[]; exitCode?: number };

type Reading = components["schemas"]["Reading"];

const readings: Reading[] = [
  { kind: "sightline", axle: 2, left: "3 5/16", right: "3 9/16" },
  { kind: "frame_gap", axle: 2, left: "30 1/8", right: "30 3/8" },
  { kind: "toe_scale", axle: 1, toe: "3/32", baseline: "40.2" },
];

const client = createClient<paths>({ baseUrl: process.argv[2] ?? "http://127.0.0.1:8410" });

const { data: solution, error: problem } = await client.POST("/v1/solutions", {
  body: {
    length_unit: "in",
    vehicle: {
      unit: "tractor",
      axles: [
        { number: 1, role: "steer", distance: "0" },
        { number: 2, role: "drive", distance: "187 1/2" },
      ],
    },
    readings,
  },
});

if (problem) {
  // `type` is the stable name to branch on; `errors` says where and how to write it right.
  console.error(`${problem.type}: ${problem.detail}`);
  for (const error of problem.errors ?? []) console.error(`  ${error.pointer}: ${error.hint}`);
  process.exitCode = 1;
} else {
  for (const finding of solution.findings) console.log(`${finding.verdict}: ${finding.text}`);
}
