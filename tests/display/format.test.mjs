import assert from "node:assert/strict";
import { test } from "node:test";
import * as format from "../../service/fillmark/display/format.js";

const NBSP = /\u00a0/g;
const plain = (text) => text.replace(NBSP, " ");

test("what is unknown is a dash and never nought", () => {
  for (const unknown of [null, undefined, Number.NaN, Number.POSITIVE_INFINITY, "0.4"]) {
    for (const show of [format.mass, format.flow, format.pressure, format.celsius, format.kelvinAsCelsius, format.percent, format.span, format.about]) {
      assert.equal(show(unknown), "–", `${show.name}(${unknown})`);
    }
    assert.equal(plain(format.plusMinus(unknown)), "± unknown");
    assert.equal(format.age(unknown), "age unknown");
    assert.equal(format.reading(unknown, "Pa"), "–");
  }
});

test("nought is shown as nought, without a sign", () => {
  assert.equal(plain(format.mass(0)), "0 g");
  assert.equal(plain(format.mass(-0.0001)), "0 g");
  assert.equal(plain(format.flow(-0.00001)), "0.0 g/s");
});

test("masses are whole grams below 100 kg and kilograms above", () => {
  assert.equal(plain(format.mass(0.39851)), "399 g");
  assert.equal(plain(format.mass(-0.0046)), "\u22125 g");
  assert.equal(plain(format.mass(99.9994)), "99\u202f999 g");
  assert.equal(plain(format.mass(99.9996)), "100.00 kg");
});

test("the expanded uncertainty is twice u, rounded up", () => {
  assert.equal(plain(format.plusMinus(0.001)), "± 2 g");
  assert.equal(plain(format.plusMinus(0.00101)), "± 3 g");
  assert.equal(plain(format.plusMinus(0)), "± 0 g");
});

// 1 bar = 100 000 Pa and 0 °C = 273.15 K exactly: NIST SP 811 (2008) B.8 and 4.2.1.1.
test("pressures are bar and temperatures degrees Celsius", () => {
  assert.equal(plain(format.pressure(286500)), "2.87 bar");
  assert.equal(plain(format.pressure(1500000)), "15.0 bar");
  assert.equal(plain(format.kelvinAsCelsius(273.15)), "0.0 °C");
  assert.equal(plain(format.kelvinAsCelsius(272.55)), "\u22120.6 °C");
  assert.equal(plain(format.reading(286500, "Pa")), "2.87 bar");
  assert.equal(plain(format.reading(3.174, "kg")), "3174 g");
  assert.equal(plain(format.reading(41, "%RH")), "41 % RH");
});

test("spans carry minutes and hours", () => {
  assert.equal(plain(format.span(59.4)), "59 s");
  assert.equal(plain(format.span(59.6)), "1 min 00 s");
  assert.equal(plain(format.span(3725)), "1 h 02 min");
});

test("a prediction never shows more time than is left", () => {
  for (let seconds = 0; seconds < 600; seconds += 0.7) {
    const text = plain(format.about(seconds));
    const number = Number(/[\d.]+/.exec(text)[0]) * (text.endsWith("min") ? 60 : 1);
    const shown = seconds < 20 ? number - 1 : number;
    assert.ok(shown <= seconds, `${seconds} is shown as ${text}`);
    assert.ok(number > seconds - 31, `${seconds} is shown as ${text}`);
  }
});

test("an age is never shown younger than a tenth of a second too young", () => {
  assert.equal(plain(format.age(0.04)), "0.0 s old");
  assert.equal(plain(format.age(9.94)), "9.9 s old");
  assert.equal(plain(format.age(75.9)), "1 min 15 s old");
});

test("a share that is not sure is not shown as sure", () => {
  assert.equal(plain(format.percent(1)), "100 %");
  assert.equal(plain(format.percent(0.9999)), "> 99 %");
  assert.equal(plain(format.percent(0.0001)), "< 1 %");
  assert.equal(plain(format.percent(0)), "0 %");
});

test("what a verdict leaves open is a list, not a sentence", () => {
  assert.deepEqual(format.verdict("undecided between healthy and compressor weak and air in the circuit"), {
    lead: "Undecided. One of these:", choices: ["Healthy", "Compressor weak", "Air in the circuit"],
  });
  assert.deepEqual(format.verdict("preliminary: restricted"), { lead: "Preliminary: restricted", choices: [] });
  assert.deepEqual(format.verdict("leaking_and_wet"), { lead: "Leaking and wet", choices: [] });
});
