-- One request again and again: wrk -s one.lua URL -- BODY_FILE KEY
local bytes

function init(args)
   local file = assert(io.open(args[1], "rb"))
   local headers = {["Content-Type"] = "application/json"}
   if args[2] and args[2] ~= "" then headers["Authorization"] = "Bearer " .. args[2] end
   bytes = wrk.format("POST", nil, headers, file:read("*a"))
   file:close()
end

function request() return bytes end

function done(summary, latency, requests)
   local e = summary.errors
   io.write(string.format(
      '\nJSON {"requests": %d, "microseconds": %d, "refused": %d, "broken": %d, "p50": %d, "p99": %d}\n',
      summary.requests, summary.duration, e.status, e.connect + e.read + e.write + e.timeout,
      latency:percentile(50), latency:percentile(99)))
end
