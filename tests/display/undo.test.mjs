import assert from "node:assert/strict";
import { test } from "node:test";
import { cansOf } from "../../service/fillmark/display/open_form.js";
import { wayBack } from "../../service/fillmark/display/undo.js";

const before = {
  valves: { low: false }, engine_running: true, pump_running: null, step: "evacuation",
};
const back = (action, more = {}) => wayBack(action, { ...before, ...more })?.back ?? null;

test("what is likely to slip can be taken back, by the opposite act", () => {
  assert.deepEqual(back({ type: "valve", valve: "low", open: true }), { type: "valve", valve: "low", open: false });
  assert.deepEqual(back({ type: "valve", valve: "high", open: true }), { type: "valve", valve: "high", open: false });
  assert.deepEqual(back({ type: "engine", running: false }), { type: "engine", running: true });
  assert.deepEqual(back({ type: "pump", running: true }), { type: "pump", running: false });
  assert.deepEqual(back({ type: "container.mount", container: "C2" }), { type: "container.unmount" });
  assert.deepEqual(back({ type: "correct", mass: "-12 g", reason: "x" })?.mass, "12 g");
  assert.deepEqual(back({ type: "correct", mass: "12 g", reason: "x" })?.mass, "-12 g");
  assert.deepEqual(back({ type: "step.end" }), { type: "step.begin", step: "evacuation", reason: "ended by mistake" });
});

test("what changed nothing, or cannot be taken back, offers no undo", () => {
  assert.equal(back({ type: "valve", valve: "low", open: false }), null);
  assert.equal(back({ type: "engine", running: true }), null);
  for (const type of ["stop_point.acknowledge", "note", "job.close", "purge", "container.unmount"]) assert.equal(back({ type }), null);
  assert.equal(back({ type: "step.end" }, { step: null }), null);
});

test("an undo says on its button what it states, and in its note what was a slip", () => {
  assert.equal(wayBack({ type: "valve", valve: "high", open: true }, before).undo, "Undo: it is shut");
  assert.match(wayBack({ type: "engine", running: false }, before).note, /correction: “Engine: off” was a slip/);
});

test("containers at hand are named in their order, and none is guessed", () => {
  assert.deepEqual(cansOf({ cans: "2", can_net: "340", unit: "g", can_draw: "vapour" }), [
    { container: "C1", net: "340 g", draw: "vapour" }, { container: "C2", net: "340 g", draw: "vapour" },
  ]);
  for (const fields of [{}, { cans: "2" }, { cans: "", can_net: "340" }, { cans: "-1", can_net: "340" }, { cans: "x", can_net: "1 kg" }]) {
    assert.deepEqual(cansOf(fields), []);
  }
  assert.equal(cansOf({ cans: "999", can_net: "1 kg" }).length, 20);
});
