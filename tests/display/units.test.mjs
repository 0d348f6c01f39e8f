import assert from "node:assert/strict";
import { test } from "node:test";
import * as format from "../../service/fillmark/display/format.js";
import { MASSES, PRESSURES, VACUA } from "../../service/fillmark/display/measure.js";
import { reunited } from "../../service/fillmark/display/service_text.js";
import { CHOICES, read, settings } from "../../service/fillmark/display/settings.js";
import * as units from "../../service/fillmark/display/units.js";

const plain = (text) => text.replace(/[\u00a0\u202f]/g, " ");
const chosen = (choice, check) => {
  Object.assign(settings, choice);
  try {
    check();
  } finally {
    Object.assign(settings, read(null));
  }
};

// NIST SP 811 (2008), appendix B.8: 1 lb = 0.453 592 37 kg, 1 oz = 0.028 349 52 kg, 1 psi = 6894.757 Pa,
// 1 inHg (conventional) = 3386.389 Pa, 1 mmHg (conventional) = 133.3224 Pa, of which a micron is a thousandth.
test("factors are those of NIST SP 811", () => {
  const near = (value, wanted) => assert.ok(Math.abs(value / wanted - 1) < 1e-6, `${value} ${wanted}`);
  near(MASSES.lb.si, 0.45359237);
  near(16 * MASSES.oz.si, MASSES.lb.si);
  near(PRESSURES.psi.si, 6894.757);
  near(VACUA.inHg.si, 3386.389);
  near(1000 * VACUA.micron.si, 133.3224);
});

test("a mass in every unit, and its doubt never smaller than it is", () => {
  for (const [mass, text, doubt] of [["g", "520 g", "± 4 g"], ["kg", "0.520 kg", "± 0.004 kg"], ["oz", "18.34 oz", "± 0.12 oz"], ["lb", "1.146 lb", "± 0.008 lb"]]) {
    chosen({ mass }, () => {
      assert.equal(plain(format.mass(0.52)), text);
      assert.equal(plain(format.plusMinus(0.0016)), doubt);
      const shown = Number(plain(format.plusMinus(0.0016)).match(/[\d.]+/)[0]) * MASSES[mass].si;
      assert.ok(shown >= 0.0032 - 1e-12);
      assert.equal(format.mass(null), "–");
      assert.equal(format.flow(null), "–");
    });
  }
  chosen({ mass: "oz" }, () => assert.equal(plain(format.flow(0.002)), "4.2 oz/min"));
});

// 30 psi and 50 °F are 206 842.7 Pa and 10 °C: SP 811, B.8 and B.9.
test("pressures and temperatures in the other trade's units", () => {
  chosen({ pressure: "psi", temperature: "°F" }, () => {
    assert.equal(plain(format.pressure(206842.7)), "30.0 psi");
    assert.equal(plain(format.celsius(10)), "50.0 °F");
    assert.equal(plain(units.kelvins(5)), "9.0 °F");
  });
  chosen({ pressure: "kPa" }, () => assert.equal(plain(format.pressure(206842.7)), "207 kPa"));
  for (const [vacuum, text] of [["Pa", "67 Pa"], ["micron", "500 micron"], ["inHg", "0.0197 inHg"], ["kPa", "0.0667 kPa"]]) {
    chosen({ vacuum }, () => assert.equal(plain(units.vacuum(66.6612)), text));
  }
});

test("numbers inside a sentence of the service follow the choice, a doubt and a range with them", () => {
  const text = "721 ± 3 g in the circuit; label 700 to 740 g, 2.0 g/s flow, low side 2.74 bar absolute = -1.8 °C, vent 5 ± 3 °C, 0.0094 Pa·m³/s (20 Pa in 10 min).";
  assert.equal(reunited(text), text);
  chosen({ mass: "oz", pressure: "psi", temperature: "°F", vacuum: "micron" }, () => {
    assert.equal(
      plain(reunited(text)).replaceAll("\u2212", "-"),
      "25.43 ± 0.11 oz in the circuit; label 24.69 to 26.10 oz, 2.0 g/s flow, low side 39.7 psi absolute = 28.8 °F, vent 41.0 ± 5.4 °F, 0.0094 Pa·m³/s (150 micron in 10 min).",
    );
  });
});

test("only sound choices are taken from what was kept", () => {
  const defaults = Object.fromEntries(Object.entries(CHOICES).map(([name, values]) => [name, values[0]]));
  for (const kept of [null, "", "{", "[]", "7", '{"mass":"stone","evil":1}']) assert.deepEqual(read(kept), defaults);
  assert.deepEqual(read('{"mass":"lb","theme":"sun"}'), { ...defaults, mass: "lb", theme: "sun" });
});
