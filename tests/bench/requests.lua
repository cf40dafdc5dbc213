-- wrk's part: what each workload sends. Environment: WORKLOAD, RUNS, OVENWRIGHT_TOKEN, APPLIANCES and SITES (ids).
local workload, runs = os.getenv("WORKLOAD"), tonumber(os.getenv("RUNS") or "1")
local headers = { ["Authorization"] = "Bearer " .. os.getenv("OVENWRIGHT_TOKEN") }
local function list(name)
    local ids = {}
    for id in (os.getenv(name) or ""):gmatch("%S+") do ids[#ids + 1] = id end
    return ids
end
local appliances, sites = list("APPLIANCES"), list("SITES")

function init()
    math.randomseed(os.time() + number * 1000003)
    for _ = 1, 10 do math.random() end
end

-- UUIDv7 to the second: the rest is random, as with many phones.
local function id()
    local time = string.format("%012x", os.time() * 1000 + math.random(0, 999))
    return string.format("%s-%s-7%03x-%04x-%06x%06x", time:sub(1, 8), time:sub(9), math.random(0, 0xfff),
        math.random(0x8000, 0xbfff), math.random(0, 0xffffff), math.random(0, 0xffffff))
end

local function batch()
    local appliance, now, items = appliances[math.random(#appliances)], os.date("!%Y-%m-%dT%H:%M:%S.000000Z"), {}
    for item = 1, runs do
        items[item] = string.format('{"id":"%s","appliance_id":"%s","procedure":{"key":"fill_time","version":1},' ..
            '"phase":"baseline","device_id":"bench","sequence":1,"taken_at":"%s","conditions":{"confirmed":["sump_empty"]},' ..
            '"readings":[{"step":"fill_time","value":{"value":12.71,"unit":"s","uncertainty":0.3}}]}', id(), appliance, now)
    end
    return '{"runs":[' .. table.concat(items, ",") .. "]}"
end

function request()
    if workload == "write" then
        headers["Content-Type"] = "application/json"
        return wrk.format("POST", "/v1/test-runs", headers, batch())
    elseif workload == "recurring" then
        return wrk.format("GET", "/v1/sites/" .. sites[math.random(#sites)] .. "/recurring-faults", headers)
    end
    return wrk.format("GET", "/v1/appliances/" .. appliances[math.random(#appliances)] .. "/history", headers)
end

-- A refused run would make the service look fast: every answer is looked at.
bad = 0
function response(status, _, body)
    if status ~= 200 or (workload == "write" and body:find('"rejected"', 1, true)) then
        bad = bad + 1
        if bad == 1 then io.stderr:write(status, " ", body:sub(1, 500), "\n") end
    end
end

local threads = {}
function setup(thread)
    threads[#threads + 1] = thread
    thread:set("number", #threads)
end

function done(summary)
    local refused = 0
    for _, thread in ipairs(threads) do refused = refused + thread:get("bad") end
    local errors = summary.errors
    local failed = refused + errors.connect + errors.read + errors.write + errors.timeout
    io.write(string.format("RESULT %.2f %d %d\n", summary.requests / (summary.duration / 1e6), summary.requests, failed))
end
