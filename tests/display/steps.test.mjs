import assert from "node:assert/strict";
import { test } from "node:test";
import { openingAction, readsGauge } from "../../service/fillmark/display/opening.js";
import { pickCall } from "../../service/fillmark/display/stop_points.js";
import {
  MAY_FOLLOW, STEPS, bigStep, lastDone, missedBefore, nextStep, reportedStep, stateOf,
} from "../../service/fillmark/display/steps.js";

let clock = 0;
const record = (more = {}) => ({ began: (clock += 1), ended: clock, reason: null, skipped: false, report: null, ...more });
const job = (steps, more = {}) => ({ step: null, steps, closed_at: null, containers: [], active: [], mounted: null, ...more });
const verdict = (word) => record({ report: { verdict: word, measured: [], proves: [], does_not_prove: [], next: [], numbers: {} } });

test("each step is done, in progress, skipped or not done", () => {
  const view = job({ recovery: record(), pressure_test: record({ skipped: true }), evacuation: record({ ended: null }) }, { step: "evacuation" });
  assert.deepEqual(STEPS.map((step) => stateOf(view, step)), ["done", "skipped", "now", "open", "open", "open"]);
});

test("a fresh job begins with recovery, with a can on the scale with charging", () => {
  assert.equal(nextStep(job({})), "recovery");
  assert.equal(nextStep(job({}, { containers: [{ mounted: true, use: "charge" }] })), "charging");
  assert.equal(nextStep(job({}, { containers: [{ mounted: true, use: "recovery" }] })), "recovery");
  assert.equal(nextStep(job({ recovery: record({ skipped: true }) })), "pressure_test");
});

test("without trouble the steps follow each other to the end", () => {
  const steps = {};
  const seen = [];
  for (let next = nextStep(job(steps)); next !== null; next = nextStep(job(steps))) {
    seen.push(next);
    steps[next] = record();
  }
  assert.deepEqual(seen, STEPS);
});

test("after a skipped pressure test comes the evacuation; after a lone one nothing else is jumped to", () => {
  const steps = { recovery: record() };
  steps.pressure_test = record({ skipped: true });
  assert.equal(nextStep(job(steps)), "evacuation");
  assert.equal(lastDone(job(steps)), "recovery");
});

test("a bad verdict sends back and never on to charging", () => {
  for (const word of ["leaking", "leaking_and_wet", "wet_or_outgassing", "undecided"]) {
    const next = nextStep(job({ evacuation: record(), vacuum_hold: verdict(word) }));
    assert.notEqual(next, "charging", word);
    assert.ok(MAY_FOLLOW[next].includes("vacuum_hold"), `${word} sends to ${next}, which may not follow`);
  }
  assert.equal(nextStep(job({ evacuation: record(), vacuum_hold: verdict("tight") })), "charging");
});

test("nothing is next while a step is in progress or the job is closed", () => {
  assert.equal(nextStep(job({ recovery: record({ ended: null }) }, { step: "recovery" })), null);
  assert.equal(nextStep(job({}, { closed_at: 5 })), null);
});

test("a reason is asked for where the service will ask for one, and only there", () => {
  assert.deepEqual(missedBefore(job({}), "charging"), []);
  assert.deepEqual(missedBefore(job({ recovery: record() }), "charging"), ["evacuation", "vacuum_hold"]);
  assert.deepEqual(missedBefore(job({ recovery: record(), pressure_test: record({ skipped: true }) }), "evacuation"), []);
});

test("the big place is the charge's, except in another step", () => {
  assert.equal(bigStep(job({})), null);
  assert.equal(bigStep(job({}, { step: "charging" })), null);
  assert.equal(bigStep(job({}, { step: "vacuum_hold" })), "vacuum_hold");
});

test("the report shown is the chosen one, else the one in progress, else the last", () => {
  const view = job({ recovery: record(), evacuation: record({ ended: null }) }, { step: "evacuation" });
  assert.equal(reportedStep(view, "recovery"), "recovery");
  assert.equal(reportedStep(view, "charging"), "evacuation");
  assert.equal(reportedStep({ ...view, step: null }, null), "evacuation");
  assert.equal(reportedStep(job({}), null), null);
});

test("the call speaks of the step in progress, of a silent gauge, and of the step to come", () => {
  const now = { lost: false, massStale: true, elapsedS: 0 };
  const hold = job({ vacuum_hold: record({ ended: null, report: { next: ["go on: wait"] } }) }, { step: "vacuum_hold" });
  assert.deepEqual(
    [pickCall(hold, now).word, pickCall(hold, now).detail], ["Vacuum hold in progress", "Go on: wait"],
  );
  assert.equal(pickCall(hold, { ...now, gaugeStale: true }).word, "The gauge is silent");
  assert.equal(pickCall(hold, { ...now, lost: true }).word, "Watching blind");
  assert.equal(pickCall(job({ recovery: record() }), now).word, "Next: Pressure test");
  assert.equal(pickCall(job({}), now).word, "No container on the scale");
  const critical = { id: "x", subject: "", severity: "critical", state: "unacknowledged active", at: 1, text: "t", what: "Shut it.", why: "", source: "" };
  assert.equal(pickCall({ ...hold, active: [critical] }, { ...now, gaugeStale: true }).word, "Shut it");
});

test("how a gauge reads is taken from the opening action, and nothing is made of what is not known", () => {
  const opening = (more) => ({ type: "job.open", ...more });
  const page = { entries: [{ records: [{ n: "b/scale/mass", v: 1 }, { n: "b/action", vs: "{" }, { n: "b/action", vs: JSON.stringify(opening({ gauge: ["low/pressure"] })) }] }] };
  const found = openingAction(page);
  assert.equal(readsGauge(found, "low/pressure"), true);
  assert.equal(readsGauge(found, "vacuum/pressure"), false);
  assert.equal(readsGauge(opening({ gauge: true }), "vacuum/pressure"), true);
  assert.equal(readsGauge(opening({ gauge: true, vacuum_gauge: { resolution: "1 Pa" } }), "vacuum/pressure"), false);
  assert.equal(readsGauge(opening({ vacuum_gauge: { kind: "compound" } }), "vacuum/pressure"), true);
  assert.equal(readsGauge(null, "vacuum/pressure"), null);
  assert.equal(openingAction({ entries: [] }), null);
  assert.equal(openingAction(null), null);
});
