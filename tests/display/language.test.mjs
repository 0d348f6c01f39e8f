import assert from "node:assert/strict";
import { test } from "node:test";
import de from "../../service/fillmark/display/de.js";
import { fromService, t, templates } from "../../service/fillmark/display/i18n.js";
import { between, weighs } from "../../service/fillmark/display/steps.js";

const known = templates(de);
const german = (text) => fromService(text, de, known);

test("English is its own catalogue, and values stand where their names are", () => {
  assert.equal(t("Close in {when}", { when: "20 s" }), "Close in 20 s");
  assert.equal(t("{a} and {b}", { a: "{b}", b: 2 }), "{b} and 2");
  assert.equal(t("nobody knows this {x}", {}), "nobody knows this {x}");
});

test("sentences of the service are translated whole, or with their numbers in their places", () => {
  assert.deepEqual(german("Keep the valve shut."), { text: "Ventil geschlossen lassen.", own: true });
  assert.deepEqual(german("The aim of 720 g is in: 721 ± 6 g. Keep the valve shut."), {
    text: "Das Ziel von 720 g ist drin: 721 ± 6 g. Ventil geschlossen lassen.", own: true,
  });
  assert.match(german("vent/temperature is silent. Nothing was heard for 12 s, and its last value is no longer true. Check the probe.").text, /^vent\/temperature schweigt\. Seit 12 s/);
});

test("what no catalogue knows stays as it is and says that it is English", () => {
  assert.deepEqual(german("Something new (with $signs^)."), { text: "Something new (with $signs^).", own: false });
  assert.deepEqual(german(""), { text: "", own: false });
});

const job = (steps, more = {}) => ({ step: null, closed_at: null, containers: [], steps, ...more });
const done = (began) => ({ began, skipped: false, report: { verdict: "tight" } });

test("between two steps the last verdict stands, unless a mass is what matters", () => {
  assert.equal(between(job({})), null);
  assert.equal(between(job({ recovery: done(1), vacuum_hold: done(9) })), "vacuum_hold");
  assert.equal(between(job({ vacuum_hold: done(1) }, { step: "charging" })), null);
  assert.equal(between(job({ vacuum_hold: done(1), charging: done(2) })), null);
  assert.equal(between(job({ vacuum_hold: done(1) }, { containers: [{ mounted: true, use: "charge" }] })), null);
  assert.equal(between(job({ charging: done(1), performance_test: done(2) }, { containers: [{ mounted: true, use: "charge" }] })), "performance_test");
  assert.equal(between(job({ charging: done(1), performance_test: done(2) }, { closed_at: 3 })), null);
  assert.equal(between(job({ evacuation: done(1) }, { closed_at: 3 })), "evacuation");
});

test("a container has a place where something is weighed, or will be next", () => {
  assert.equal(weighs(job({})), true);
  for (const [step, expected] of [["charging", true], ["recovery", true], ["evacuation", false], ["performance_test", false]]) {
    assert.equal(weighs(job({}, { step })), expected);
  }
  assert.equal(weighs(job({ vacuum_hold: done(1) })), true);
  assert.equal(weighs(job({ recovery: done(1) })), false);
});
