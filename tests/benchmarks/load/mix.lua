-- What a shop system asks, in twelve: 6 solve, 3 list visits, 2 store a round, 1 show a worksheet.
-- wrk -s mix.lua URL -- KEY RUN SOLVE_FILE ROUND_FILE VISITS_FILE
-- RUN makes idempotency keys new; VISITS_FILE has an id a line.
local number = 0

function setup(thread)
   thread:set("number", number)
   number = number + 1
end

local function content(path)
   local file = assert(io.open(path, "rb"))
   local text = file:read("*a")
   file:close()
   return text
end

function init(args)
   key, run = args[1], args[2]
   solve_body, round_body = content(args[3]), content(args[4])
   visits = {}
   for id in content(args[5]):gmatch("%S+") do visits[#visits + 1] = id end
   json = {["Authorization"] = "Bearer " .. key, ["Content-Type"] = "application/json"}
   solve = wrk.format("POST", "/v1/solutions", json, solve_body)
   bearer = {["Authorization"] = "Bearer " .. key}
   list = wrk.format("GET", "/v1/visits?limit=20", bearer)
   made = 0
   math.randomseed(os.time() + 7919 * number)
end

function request()
   local draw = math.random(12)
   if draw <= 6 then return solve end
   if draw <= 9 then return list end
   local visit = "/v1/visits/" .. visits[math.random(#visits)]
   if draw == 10 then return wrk.format("GET", visit .. "/worksheet", bearer) end
   made = made + 1
   json["Idempotency-Key"] = string.format("%s-%d-%d", run, number, made)
   return wrk.format("POST", visit .. "/rounds", json, round_body)
end

function done(summary, latency, requests)
   local e = summary.errors
   io.write(string.format(
      '\nJSON {"requests": %d, "microseconds": %d, "refused": %d, "broken": %d, "p50": %d, "p99": %d}\n',
      summary.requests, summary.duration, e.status, e.connect + e.read + e.write + e.timeout,
      latency:percentile(50), latency:percentile(99)))
end
