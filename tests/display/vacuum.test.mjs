import assert from "node:assert/strict";
import { test } from "node:test";
import { History } from "../../service/fillmark/display/history.js";
import { above, below, height, logAxis, sentence, ticks, timeAxis } from "../../service/fillmark/display/vacuum_scale.js";

test("round numbers are 1, 2 or 5 times a power of ten, on either side of the value", () => {
  for (let exponent = -1; exponent < 5.2; exponent += 0.013) {
    const value = 10 ** exponent;
    const [under, over] = [below(value), above(value)];
    assert.ok(under <= value * 1.000001 && over >= value * 0.999999, `${under} ${value} ${over}`);
    assert.ok(over / under <= 2.5000001);
    for (const round of [under, over]) assert.match(round.toExponential(6), /^[125]\.000000e/);
  }
  assert.equal(below(100), 100);
  assert.equal(above(100), 100);
});

test("the axis holds every value and is logarithmic", () => {
  for (const values of [[52], [52, 60], [95, 1e5], [0.02, 101325], [null, 300, undefined]]) {
    const axis = logAxis(values, 0.1);
    assert.ok(axis.hi / axis.lo >= 4);
    for (const value of values.filter((one) => one >= 0.1)) assert.ok(value >= axis.lo && value <= axis.hi * 1.000001);
    assert.ok(Math.abs(height(axis, Math.sqrt(axis.lo * axis.hi), 200) - 100) < 1e-9);
    assert.ok(ticks(axis).length >= 2);
  }
  assert.equal(height({ lo: 10, hi: 1000 }, 0, 100), 0);
  assert.equal(height({ lo: 10, hi: 1000 }, 1e9, 100), 100);
  assert.deepEqual(ticks({ lo: 10, hi: 1e5 }), [10, 100, 1000, 10000, 100000]);
  assert.deepEqual(ticks({ lo: 50, hi: 500 }), [50, 100, 200, 500]);
});

test("time spans what was seen, at least a minute", () => {
  assert.deepEqual(timeAxis([{ t: 5 }, { t: 20 }]), { lo: 5, hi: 65 });
  assert.deepEqual(timeAxis([{ t: 5 }, { t: 500 }]), { lo: 5, hi: 500 });
  assert.match(sentence([], []), /nothing seen yet/);
  assert.match(sentence([{ t: 0, v: 1e5 }, { t: 60, v: 50 }], [{ name: "target", pa: 30 }]), /over 1.min.00.s: from 100\.0.kPa to 50.Pa\. target: 30.Pa/);
});

test("history is bounded, keeps the whole course and the newest reading", () => {
  const history = new History();
  history.about("job evacuation 1");
  for (let t = 0; t < 50_000; t += 1) {
    history.take(t, t);
    assert.ok(history.all().length <= 602);
  }
  const points = history.all();
  assert.equal(points[0].t, 0);
  assert.equal(points.at(-1).t, 49_999);
  assert.ok(points.length > 250);
  const gaps = points.slice(1).map((point, index) => point.t - points[index].t);
  assert.ok(Math.max(...gaps) < 4 * (50_000 / 300), String(Math.max(...gaps)));
});

test("an older, a repeated and an unknown reading change nothing, another step begins anew", () => {
  const history = new History();
  history.about("a");
  history.take(10, 1);
  for (const [t, v] of [[10, 2], [9, 2], [11, Number.NaN], [Number.NaN, 1]]) history.take(t, v);
  assert.deepEqual(history.all(), [{ t: 10, v: 1 }]);
  history.about("a");
  assert.equal(history.all().length, 1);
  history.about("b");
  assert.deepEqual(history.all(), []);
});

test("what was read before the page came is put in front of what it saw, and stays bounded", () => {
  const history = new History();
  assert.equal(history.about("a"), true);
  assert.equal(history.about("a"), false);
  history.take(10, 5);
  history.prepend([[1, 9], [5, 8], [10, 7], [12, 7]]);
  history.take(11, 4);
  assert.deepEqual(history.all(), [{ t: 1, v: 9 }, { t: 5, v: 8 }, { t: 10, v: 5 }, { t: 11, v: 4 }]);
  const long = new History();
  long.about("b");
  long.prepend(Array.from({ length: 5000 }, (_, t) => [t, t]));
  assert.ok(long.all().length <= 601);
  assert.deepEqual([long.all()[0].t, long.all().at(-1).t], [0, 4999]);
  const empty = new History();
  empty.about("c");
  empty.prepend([]);
  assert.deepEqual(empty.all(), []);
});
