import assert from "node:assert/strict";
import { test } from "node:test";
import { endingOf } from "../../service/fillmark/display/ending.js";
import { SEVERITIES, announcements, pickCall, stateWord } from "../../service/fillmark/display/stop_points.js";

const point = (id, severity, state = "unacknowledged active", more = {}) => ({
  id, severity, state, subject: "", at: 10, text: `${id} text.`, what: `${id} what.`, why: "why", source: "source", ...more,
});
const view = (active, more = {}) => ({
  active, closed_at: null, mounted: "C1", call_in_s: null, aim_kg: 0.6, flow_kg_s: 0.002, lands_if_called_kg: 0.598, ...more,
});
const calm = { lost: false, massStale: false, elapsedS: 0 };
const closeCall = point("close-valve-now", "critical", "unacknowledged active", {
  text: "Close the low-side valve now: 590 g are in, 2.0 g/s flow, closing now lands at 598 g.",
});

test("the close call names the valve and speaks with the present numbers", () => {
  const call = pickCall(view([closeCall]), calm);
  assert.equal(call.severity, "critical");
  assert.equal(call.word, "Close the low-side valve now");
  assert.match(call.detail.replace(/\u00a0/g, " "), /ends at 598 g; aim 600 g/);
});

test("a silent gauge is called silent, and nobody is told to shut a valve", () => {
  const stale = point("reading-stale", "critical", "unacknowledged active", {
    subject: "vacuum/pressure",
    text: "The vacuum gauge is silent. Nothing was heard for 30 s, and its last value is no longer true.",
    what: "Do not go by the value that stands still; shut the valve where the scale is silent.",
  });
  const call = pickCall(view([stale]), calm);
  assert.equal(call.word, "The vacuum gauge is silent");
  assert.match(call.detail, /^Nothing was heard for 30 s/);
  assert.doesNotMatch(`${call.word} ${call.detail}`, /valve/i);
});

test("a critical stop point stays large when the connection is lost, acknowledged or not", () => {
  for (const state of ["unacknowledged active", "acknowledged active"]) {
    assert.equal(pickCall(view([{ ...closeCall, state }]), { ...calm, lost: true }).severity, "critical");
  }
});

test("a lost connection comes before warnings and before a quiet page", () => {
  for (const active of [[], [point("aim-reached", "warning")], [point("window-reached", "notice")]]) {
    assert.equal(pickCall(view(active), { ...calm, lost: true }).severity, "lost");
  }
});

test("what is over is not called", () => {
  for (const state of ["returned to normal unacknowledged", "latched unacknowledged", "latched acknowledged"]) {
    assert.equal(pickCall(view([{ ...closeCall, state }]), calm).severity, "calm");
  }
});

test("the countdown runs on between two states and warns near its end", () => {
  const flowing = view([], { call_in_s: 40 });
  assert.equal(pickCall(flowing, calm).severity, "calm");
  assert.equal(pickCall(flowing, { ...calm, elapsedS: 30 }).severity, "soon");
  assert.match(pickCall(flowing, { ...calm, elapsedS: 99 }).word, /now/);
});

test("a silent scale has no countdown", () => {
  const call = pickCall(view([], { call_in_s: 40 }), { ...calm, massStale: true });
  assert.doesNotMatch(call.word, /\d/);
});

test("a closed job calls no more, whatever was active when it was closed", () => {
  const closed = view([closeCall, point("aim-reached", "warning")], { closed_at: 5 });
  for (const lost of [false, true]) {
    assert.equal(pickCall(closed, { ...calm, lost }).severity, "calm");
  }
});

test("no container, a closed job and no flow are said", () => {
  assert.match(pickCall(view([], { mounted: null }), calm).word, /No container/);
  assert.match(pickCall(view([], { closed_at: 5 }), calm).word, /closed/);
  assert.match(pickCall(view([], { flow_kg_s: 0 }), calm).word, /Nothing flows/);
  assert.match(pickCall(view([], { flow_kg_s: null }), calm).word, /not known/);
  assert.match(pickCall(view([], { flow_kg_s: 0.002 }), calm).word, /no valve is said to be open/);
});

test("only what is newly active is spoken, critical ones at once", () => {
  const notice = point("window-reached", "notice");
  const first = announcements([], [closeCall, notice]);
  assert.equal(first.assertive.length, 1);
  assert.equal(first.polite.length, 1);
  const acknowledged = { ...closeCall, state: "acknowledged active", text: "Other numbers." };
  assert.deepEqual(announcements([closeCall, notice], [acknowledged, notice]), { assertive: [], polite: [], raised: [] });
  const over = { ...closeCall, state: "returned to normal unacknowledged" };
  assert.equal(announcements([closeCall], [over]).raised.length, 0);
  assert.equal(announcements([over], [{ ...closeCall, at: 99 }]).raised.length, 1);
});

test("severities differ in word and shape, not in colour alone", () => {
  for (const name of ["word", "shape"]) {
    assert.equal(new Set(Object.values(SEVERITIES).map((row) => row[name])).size, 3);
  }
});

// State names of IEC 62682:2014 as the engine writes them.
test("every state that is shown has words", () => {
  for (const state of [
    "unacknowledged active", "acknowledged active", "returned to normal unacknowledged", "latched unacknowledged",
    "latched acknowledged",
  ]) {
    assert.notEqual(stateWord(state), state);
  }
});

test("the act that ends a danger is offered where the valve or machine is known to be the cause", () => {
  const valves = { low: true, high: true, container: true };
  const act = (id, more, subject = "") => endingOf(point(id, "critical", undefined, { subject }), { valves, engine_running: true, ...more })?.action ?? null;
  assert.deepEqual(act("close-valve-now", { valves: { low: true } }), { type: "valve", valve: "low", open: false });
  assert.deepEqual(act("high-side-open-while-running"), { type: "valve", valve: "high", open: false });
  assert.deepEqual(act("liquid-to-low-side"), { type: "valve", valve: "low", open: false });
  assert.deepEqual(act("high-pressure-limit"), { type: "engine", running: false });
  assert.deepEqual(act("window-exceeded", { valves: { high: true } }), { type: "valve", valve: "high", open: false });
  assert.deepEqual(act("reading-stale", {}, "scale/mass"), { type: "valve", valve: "high", open: false });
  assert.equal(act("reading-stale", {}, "vacuum/pressure"), null);
  assert.equal(act("window-exceeded", { valves: { low: false } }), null);
  assert.equal(act("high-pressure-limit", { engine_running: null }), null);
  assert.equal(act("container-warming-limit"), null);
  assert.equal(endingOf(null, { valves }), null);
});
