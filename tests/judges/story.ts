// The demo story from the call to the recurring faults, by a client whose types come from the OpenAPI document alone.
// That it compiles strictly shows that the document can be used; that it runs, that the document is true.
import assert from "node:assert/strict";
import { randomBytes } from "node:crypto";
import createClient from "openapi-fetch";
import type { components, paths } from "./generated/interface.js";

const baseUrl = process.env["OVENWRIGHT_URL"];
const token = process.env["OVENWRIGHT_TOKEN"];
assert.ok(baseUrl && token, "set OVENWRIGHT_URL and OVENWRIGHT_TOKEN");
const service = createClient<paths>({ baseUrl, headers: { Authorization: `Bearer ${token}` } });

/** A UUID version 7: clients name what they make. */
function newId(): string {
    const bytes = randomBytes(16);
    bytes.writeUIntBE(Date.now(), 0, 6);
    bytes.writeUInt8((bytes.readUInt8(6) & 0x0f) | 0x70, 6);
    bytes.writeUInt8((bytes.readUInt8(8) & 0x3f) | 0x80, 8);
    const hex = bytes.toString("hex");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/** The answer, or what the service said instead. */
function right<T>(result: { data?: T; error?: unknown; response: Response }): T {
    assert.ok(result.data !== undefined, `${result.response.url}: ${result.response.status} ${JSON.stringify(result.error)}`);
    return result.data;
}

const found = right(await service.GET("/v1/search", { params: { query: { q: "saltmere bakehouse" } } }));
const site = found.items.find((item) => item.kind === "site");
assert.ok(site?.site_id, "the demo company has the bakehouse");
const machines = right(await service.GET("/v1/sites/{id}/appliances", { params: { path: { id: site.site_id } } }));
const machine = machines.items[0];
assert.ok(machine, "the bakehouse has a machine");

const order = newId();
const call: components["schemas"]["CallCreate"] = {
    id: newId(),
    site_id: site.site_id,
    words: "It fills and fills and never starts.",
    urgency: "degraded",
    stop_use: false,
    received_at: "2026-04-22T06:30:00Z",
    orders: [{ id: order, appliance_id: machine.id, symptoms: ["does_not_clean"] }],
};
const taken = await service.POST("/v1/calls", { body: call });
assert.equal(taken.response.status, 201, JSON.stringify(taken.error));
const again = await service.POST("/v1/calls", { body: call });
assert.equal(again.response.status, 200, "the same call again is already there");

function run(
    procedure: string,
    sequence: number,
    minute: number,
    readings: components["schemas"]["Reading"][],
): components["schemas"]["TestRunCreate"] {
    return {
        id: newId(),
        appliance_id: machine!.id,
        work_order_id: order,
        procedure: { key: procedure, version: 1 },
        phase: "before_repair",
        device_id: "story",
        sequence,
        taken_at: `2026-04-22T08:${minute}:00Z`,
        conditions: { confirmed: procedure === "fill_time" ? ["sump_empty"] : [] },
        readings,
    };
}
const runs = [
    run("fill_time", 1, 20, [{ step: "fill_time", value: { value: 22.01, unit: "s" } }]),
    run("inlet_pressure", 2, 24, [
        { step: "static_pressure", value: { value: 1.0, unit: "bar" } },
        { step: "dynamic_pressure", value: { value: 0.944, unit: "bar" } },
    ]),
    run("strainer_look", 3, 28, [
        { step: "inlet_strainer", choice: "clear" },
        { step: "valve_strainer", choice: "clear" },
    ]),
    run("valve_shuts_tight", 4, 32, [{ step: "passed", value: { value: 0.1, unit: "kg" } }]),
];
const kept = right(await service.POST("/v1/test-runs", { body: { runs } }));
assert.deepEqual(kept.items.map((item) => item.status), ["created", "created", "created", "rejected"]);
const wrongUnit = kept.items[3]?.problem?.errors?.[0];
assert.equal(wrongUnit?.pointer, "/readings/0/value/unit", "the rejected run says where it is wrong");

const verdicts = right(await service.GET("/v1/work-orders/{id}/verdicts", { params: { path: { id: order } } }));
assert.match(JSON.stringify(verdicts), /the building's supply is low/);

const finding = await service.POST("/v1/work-orders/{id}/findings", {
    params: { path: { id: order } },
    body: {
        id: newId(),
        position: "site_pressure",
        finding: "failed",
        failure_mode: "operates_weakly",
        cause: "water_supply",
        evidence: "measured",
        test_run_ids: [runs[1]!.id],
        found_at: "2026-04-22T08:40:00Z",
    },
});
assert.equal(finding.response.status, 201, JSON.stringify(finding.error));

const faults = right(
    await service.GET("/v1/sites/{id}/recurring-faults", {
        params: { path: { id: site.site_id }, query: { as_of: "2026-03-20T12:00:00Z" } },
    }),
);
assert.match(JSON.stringify(faults), /inlet_strainer/, "the strainer comes back every five weeks");
const usage = right(
    await service.GET("/v1/reports/parts-usage", { params: { query: { as_of: "2026-03-20T12:00:00Z" } } }),
);
assert.match(JSON.stringify(usage), /Inlet strainer insert/);
const history = right(await service.GET("/v1/appliances/{id}/history", { params: { path: { id: machine.id } } }));
assert.ok(history.items.length > 5, "the machine has a history");

const refused = await service.GET("/v1/me", { headers: { Authorization: "Bearer wrong" } });
assert.equal(refused.error?.type, "/problems/unauthenticated");
console.log(`story: order ${order} taken, graded and reported`);
