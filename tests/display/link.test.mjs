import assert from "node:assert/strict";
import { test } from "node:test";
import { Link, backoffMs } from "../../service/fillmark/display/link.js";
import { JobStream } from "../../service/fillmark/display/stream.js";

test("a link is live only while the stream is open and something is heard", () => {
  const link = new Link();
  link.begin(0);
  assert.equal(link.look(500).state, "waiting");
  assert.equal(link.look(3000).state, "lost");
  link.opened(4000);
  assert.deepEqual(link.look(4500), { state: "live", silentS: 0.5 });
  link.broke();
  assert.equal(link.look(4500).state, "lost");
});

test("an open stream with an unanswered question is lost, and silence is counted from what was heard last", () => {
  const link = new Link();
  link.opened(1000);
  link.failed();
  assert.deepEqual(link.look(7000), { state: "lost", silentS: 6 });
  link.heard(7000);
  assert.equal(link.look(7100).state, "live");
});

test("an open stream that says nothing at all is lost in the end", () => {
  const link = new Link();
  link.opened(0);
  assert.equal(link.look(60_000).state, "lost");
});

test("pauses double up to ten seconds and are never nought", () => {
  for (const random of [0, 0.5, 1]) {
    for (let attempt = 0; attempt < 40; attempt += 1) {
      const pause = backoffMs(attempt, random);
      assert.ok(pause >= 250 && pause <= 10_000);
      assert.ok(backoffMs(attempt + 1, random) >= pause);
    }
  }
});

class Source {
  constructor(made) {
    this.readyState = 0;
    this.listeners = {};
    this.closed = false;
    made.push(this);
  }

  addEventListener(name, listener) {
    this.listeners[name] = listener;
  }

  close() {
    this.closed = true;
  }

  emit(name, data) {
    this.listeners[name]({ data });
  }
}

function setUp() {
  const world = { ms: 0, sources: [], views: [], transitions: [], answer: () => Promise.reject(new Error("silent")) };
  world.stream = new JobStream({
    fetchJob: (job) => world.answer(job),
    open: () => new Source(world.sources),
    nowMs: () => world.ms,
    onState: (view) => world.views.push(view),
    onStopPoint: (moved) => world.transitions.push(moved),
  });
  return world;
}

const settle = () => new Promise((resolve) => setImmediate(resolve));
const state = (position) => JSON.stringify({ job: "bay-1.1", position });

test("a state is shown once it comes, and an older one no longer", async () => {
  const world = setUp();
  world.stream.follow("bay-1.1");
  await settle();
  world.sources[0].emit("open");
  world.sources[0].emit("state", state(5));
  world.sources[0].emit("state", state(4));
  world.sources[0].emit("state", "{half");
  assert.deepEqual(world.views.map((view) => view.position), [5]);
  world.sources[0].emit("stop_point", JSON.stringify({ id: "aim-reached" }));
  assert.deepEqual(world.transitions, [{ id: "aim-reached" }]);
});

test("a stream that is closed for good is opened anew after a pause", async () => {
  const world = setUp();
  world.stream.follow("bay-1.1");
  await settle();
  world.sources[0].readyState = 2;
  world.sources[0].emit("error");
  world.stream.tick();
  assert.equal(world.sources.length, 1);
  world.ms = 600;
  world.stream.tick();
  assert.equal(world.sources.length, 2);
  assert.equal(world.sources[0].closed, true);
});

test("while EventSource tries by itself nothing is opened, but the link is lost at once", async () => {
  const world = setUp();
  world.stream.follow("bay-1.1");
  await settle();
  world.sources[0].emit("open");
  world.sources[0].emit("error");
  world.ms = 60_000;
  world.stream.tick();
  assert.equal(world.sources.length, 1);
  assert.equal(world.stream.link.look(world.ms).state, "lost");
});

test("a quiet bay is asked and stays live; a dead service is lost", async () => {
  const world = setUp();
  world.answer = () => Promise.resolve({ job: "bay-1.1", position: 7 });
  world.stream.follow("bay-1.1");
  await settle();
  world.sources[0].emit("open");
  world.ms = 20_000;
  world.stream.tick();
  await settle();
  assert.equal(world.stream.link.look(world.ms).state, "live");
  world.answer = () => Promise.reject(new Error("silent"));
  world.ms = 24_000;
  world.stream.tick();
  await settle();
  assert.deepEqual(world.stream.link.look(world.ms), { state: "lost", silentS: 4 });
});

test("an open stream that nobody feeds any more is replaced", async () => {
  const world = setUp();
  let position = 1;
  world.answer = () => Promise.resolve({ job: "bay-1.1", position: (position += 1) });
  world.stream.follow("bay-1.1");
  world.sources[0].emit("open");
  await settle();
  for (const ms of [5000, 10_000]) {
    world.ms = ms;
    world.stream.tick();
    await settle();
  }
  assert.equal(world.sources.length, 2);
});

test("what an old stream still says is not heard", async () => {
  const world = setUp();
  world.stream.follow("bay-1.1");
  await settle();
  world.stream.follow("bay-1.2");
  await settle();
  world.sources[0].emit("state", state(9));
  assert.deepEqual(world.views, []);
});
