import assert from "node:assert/strict";
import { test } from "node:test";
import { freshKey } from "../../service/fillmark/display/api.js";
import { jobBody, massBody, mountBody, oilBody, withUnit } from "../../service/fillmark/display/bodies.js";
import { choose, isOpen, listed } from "../../service/fillmark/display/jobs.js";
import { fieldErrors, fieldName } from "../../service/fillmark/display/problem.js";
import { lensAxis, outside, place, wholeAxis } from "../../service/fillmark/display/window_scale.js";

const fields = {
  bay: " bay-2 ", refrigerant: "R-1234yf", charge_min: "480", charge_max: "1.15 lb", unit: "g", aim: "mid", aim_mass: "",
  length: "1.8", bore: "4.8", resolution: "1",
};

test("a unit is added to a bare number only", () => {
  assert.equal(withUnit("480", "g"), "480 g");
  assert.equal(withUnit(" 17 oz ", "g"), "17 oz");
  assert.equal(withUnit("-3.5", "g"), "-3.5 g");
  assert.equal(withUnit("", "g"), "");
  assert.equal(withUnit("much", "g"), "much");
});

test("a decimal comma is not guessed at: the service gets it as it is and refuses", () => {
  assert.equal(withUnit("1,800", "g"), "1,800 g");
});

test("the body of a job", () => {
  assert.deepEqual(jobBody(fields), {
    bay: "bay-2",
    circuit: { refrigerant: "R-1234yf", charge_min: "480 g", charge_max: "1.15 lb" },
    aim: "mid",
    scale: { resolution: "1 g", sheltered: false },
    hose: { length: "1.8 m", bore: "4.8 mm", shutoff: false },
  });
  const bare = jobBody({ ...fields, length: "", bore: "", aim: "mass", aim_mass: "500", gauge: "on" });
  assert.equal("hose" in bare, false);
  assert.equal(bare.aim, "500 g");
  assert.equal(bare.gauge, true);
  assert.deepEqual(jobBody({ ...fields, sheltered: "on" }).scale, { resolution: "1 g", sheltered: true });
  assert.equal("technician" in jobBody({ ...fields, technician: " " }), false);
  assert.equal(jobBody({ ...fields, technician: " Ada " }).technician, "Ada");
  assert.deepEqual(jobBody({ ...fields, bore: "" }).hose, { length: "1.8 m", bore: "", shutoff: false });
});

test("a mass that is not known is left out and not sent as nought", () => {
  assert.deepEqual(mountBody({ container: "C1", net: " ", unit: "g", draw: "vapour" }), {
    type: "container.mount", container: "C1", draw: "vapour",
  });
  assert.equal(mountBody({ container: "C1", net: "12", unit: "oz", draw: "liquid" }).net, "12 oz");
  assert.deepEqual(massBody("purge", ""), { type: "purge" });
  assert.deepEqual(massBody("purge", "4"), { type: "purge", mass: "4 g" });
});

// JSON pointers as RFC 6901 section 5 writes them.
test("a problem's field is found whichever way it is written", () => {
  assert.equal(fieldName("/circuit/charge_max"), "charge_max");
  assert.equal(fieldName("circuit.charge_min_kg"), "charge_min");
  assert.equal(fieldName(["body", "hose", "bore_m"]), "bore");
  assert.equal(fieldName("/hose/length"), "length");
  assert.equal(fieldName("/tags/0"), "tags");
  assert.equal(fieldName(undefined), "");
});

// Members of problem details: RFC 9457 section 3.1.
test("a problem becomes a sentence at its field, with what would do", () => {
  const problem = { type: "/problems/invalid-field", title: "A field cannot be taken", detail: "'x' is no mass", field: "/circuit/charge_max", accepted: '"520 g"' };
  assert.deepEqual(fieldErrors(problem), [{ field: "charge_max", text: `'x' is no mass: "520 g".` }]);
  assert.deepEqual(fieldErrors({ title: "There is no such job" }), [{ field: "", text: "There is no such job" }]);
  assert.equal(fieldErrors(null).length, 1);
  assert.deepEqual(
    fieldErrors({ errors: [{ pointer: "/aim", detail: "a" }, { pointer: "/bay", detail: "b" }] }).map((row) => row.field),
    ["aim", "bay"],
  );
});

test("keys differ, also without randomUUID", () => {
  const poor = { getRandomValues: (bytes) => crypto.getRandomValues(bytes) };
  const keys = new Set(Array.from({ length: 200 }, () => freshKey(poor)));
  assert.equal(keys.size, 200);
  for (const key of keys) assert.match(key, /^[0-9a-f]{32}$/);
  assert.match(freshKey(crypto), /^[0-9a-f-]{36}$/);
});

test("the first open job, of the wanted bay where one is wanted", () => {
  const jobs = listed({ jobs: [
    { job: "a.2", bay: "a", closed_at: 5 }, { job: "b.1", bay: "b", closed_at: null }, { job: "a.1", bay: "a", closed_at: null },
  ] });
  assert.equal(isOpen(jobs[0]), false);
  assert.equal(choose(jobs, null).job, "b.1");
  assert.equal(choose(jobs, "a").job, "a.1");
  assert.equal(choose(jobs, "c"), null);
  assert.deepEqual(listed(null), []);
});

test("the axes are linear, and the window lies inside both", () => {
  for (const [min, max, charged] of [[0.48, 0.52, 0.1], [0.5, 0.5, 0.6], [5, 5.4, 0], [0.02, 0.03, 2]]) {
    const whole = wholeAxis(max, [charged, null, undefined]);
    const lens = lensAxis(min, max);
    assert.equal(outside(whole, charged), 0);
    for (const axis of [whole, lens]) {
      assert.equal(outside(axis, min), 0);
      assert.equal(outside(axis, max), 0);
      const middle = place(axis, (axis.lo + axis.hi) / 2, 200);
      assert.ok(Math.abs(middle - 100) < 1e-9);
    }
  }
  assert.equal(place({ lo: 1, hi: 2 }, 0, 100), 0);
  assert.equal(place({ lo: 1, hi: 2 }, 3, 100), 100);
  assert.equal(outside({ lo: 1, hi: 2 }, 0.9), -1);
  assert.equal(outside({ lo: 1, hi: 2 }, 2.1), 1);
});

test("a job may declare its vacuum gauge, its volume and its line set, and sends none that is empty", () => {
  const bare = jobBody({ ...fields, vacuum_resolution: " ", vacuum_kind: "absolute", volume: "", kind: "vehicle", line_length: "9" });
  assert.equal("vacuum_gauge" in bare, false);
  assert.deepEqual(Object.keys(bare.circuit), ["refrigerant", "charge_min", "charge_max"]);
  const full = jobBody({
    ...fields, vacuum_resolution: "10 micron", vacuum_kind: "compound", volume: "2.4", kind: "stationary", line_length: "12", line_included: "5", line_rate: "20",
  });
  assert.deepEqual(full.vacuum_gauge, { resolution: "10 micron", kind: "compound" });
  assert.equal(full.circuit.volume, "2.4 L");
  assert.deepEqual([full.circuit.kind, full.circuit.line], ["stationary", { length: "12 m", included: "5 m", rate: "20 g/m" }]);
  const part = jobBody({ ...fields, kind: "stationary", line_length: "12", line_included: "", line_rate: "" });
  assert.deepEqual(part.circuit.line, { length: "12 m" });
  assert.equal("line" in jobBody({ ...fields, kind: "stationary", line_length: "", line_included: "", line_rate: "" }).circuit, false);
});

test("the scale's plate is told as far as it is known", () => {
  assert.deepEqual(Object.keys(jobBody({ ...fields, class: "", capacity: " " }).scale), ["resolution", "sheltered"]);
  const { scale } = jobBody({ ...fields, class: "III", capacity: "15" });
  assert.deepEqual([scale.class, scale.capacity], ["III", "15 kg"]);
  assert.equal(fieldName("/scale/class"), "class");
  assert.equal(fieldName("/scale/capacity"), "capacity");
});

test("a recovery cylinder is mounted with tare and water capacity, not with a net mass", () => {
  assert.deepEqual(
    mountBody({ container: "R1", use: "recovery", net: "5", unit: "kg", draw: "vapour", tare: "7.5", water_capacity: "12" }),
    { type: "container.mount", container: "R1", use: "recovery", tare: "7.5 kg", water_capacity: "12 L" },
  );
  assert.equal("tare" in mountBody({ container: "R1", use: "recovery", unit: "kg", tare: "", water_capacity: "" }), false);
});

test("oil taken out, put in, and a part with or without its amount", () => {
  assert.deepEqual(oilBody({ what: "removed", amount: "15", component: "left over" }), { type: "oil", removed: "15 mL" });
  assert.deepEqual(oilBody({ what: "added", amount: "0.5 oz", component: "" }), { type: "oil", added: "0.5 oz" });
  assert.deepEqual(oilBody({ what: "replaced", amount: "", component: " drier " }), { type: "component.replaced", component: "drier" });
  assert.equal(oilBody({ what: "replaced", amount: "10", component: "drier" }).oil, "10 mL");
});

test("fields of the same name in two parts of the form are told apart", () => {
  assert.equal(fieldName("/circuit/line/length_m"), "line_length");
  assert.equal(fieldName("/hose/length"), "length");
  assert.equal(fieldName("/vacuum_gauge/resolution"), "vacuum_resolution");
  assert.equal(fieldName("/scale/resolution"), "resolution");
  assert.equal(fieldName("/circuit/line"), "line");
});
