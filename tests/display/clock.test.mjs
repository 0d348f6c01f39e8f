import assert from "node:assert/strict";
import { test } from "node:test";
import { ServerClock, dateHeaderS } from "../../service/fillmark/display/clock.js";
import { Freshness } from "../../service/fillmark/display/freshness.js";

function clockAt() {
  const local = { ms: 0 };
  return { local, clock: new ServerClock(() => local.ms) };
}

test("before the first stamp every age is unknown", () => {
  const { clock } = clockAt();
  assert.equal(clock.nowS(), null);
  assert.equal(clock.ageS(5), null);
});

test("ages run on the monotonic clock and not on the device's time of day", () => {
  const { local, clock } = clockAt();
  clock.take(1_790_000_000);
  local.ms = 4200;
  assert.ok(Math.abs(clock.ageS(1_790_000_000) - 4.2) < 1e-6);
  assert.equal(clock.ageS(null), null);
});

test("a late stamp does not make values younger", () => {
  const { local, clock } = clockAt();
  clock.take(1000);
  local.ms = 10_000;
  clock.take(1003); // was seven seconds under way
  assert.equal(clock.nowS(), 1010);
  local.ms = 11_000;
  clock.take(1011.5); // a quicker one makes the clock better
  assert.equal(clock.nowS(), 1011.5);
});

test("a stamp is forgotten in time, so that a corrected server clock is followed", () => {
  const { local, clock } = clockAt();
  clock.take(5000);
  for (let second = 1; second <= 200; second += 1) {
    local.ms = second * 1000;
    clock.take(1000 + second);
  }
  assert.equal(clock.nowS(), 1200);
});

test("after sleep nothing is known until the server speaks", () => {
  const { clock } = clockAt();
  clock.take(1000);
  clock.reset();
  assert.equal(clock.nowS(), null);
});

// The example date of RFC 9110 section 5.6.7; 784111777 is the same instant in Unix seconds.
test("the Date header is read", () => {
  assert.equal(dateHeaderS("Sun, 06 Nov 1994 08:49:37 GMT"), 784111777);
  assert.equal(dateHeaderS(null), null);
  assert.equal(dateHeaderS("yesterday"), null);
});

const reading = (at, live = true) => ({ "scale/mass": { value: 1, unit: "kg", at, live } });

test("a scale is silent after 3 s, or three of its own intervals", () => {
  const fresh = new Freshness();
  fresh.take(reading(100));
  fresh.take(reading(100.5));
  assert.equal(fresh.stale("scale/mass", true, 2.9), false);
  assert.equal(fresh.stale("scale/mass", true, 3.1), true);
  const slow = new Freshness();
  for (const at of [100, 102, 104]) slow.take(reading(at));
  assert.equal(slow.stale("scale/mass", true, 5.9), false);
  assert.equal(slow.stale("scale/mass", true, 6.1), true);
});

test("what the service calls dead or whose age is unknown is stale", () => {
  const fresh = new Freshness();
  assert.equal(fresh.stale("low/pressure", false, 0), true);
  assert.equal(fresh.stale("low/pressure", true, null), true);
  assert.equal(fresh.stale("low/pressure", true, 9.9), false);
  assert.equal(fresh.stale("low/pressure", true, 10.1), true);
});

test("a flag that does not change is not silent", () => {
  assert.equal(new Freshness().stale("scale/stable", true, 500), false);
});
