import assert from "node:assert/strict";
import { test } from "node:test";
import { fitOf, stageOf } from "../../service/fillmark/display/stage.js";
import { STEPS } from "../../service/fillmark/display/steps.js";
import * as units from "../../service/fillmark/display/units.js";

const plain = (text) => text.replace(/[\u00a0\u202f]/g, " ");
const absolute = () => false;
const reading = (value, unit = "Pa") => ({ value, unit, at: 1, live: true });

function job(step, numbers, more = {}) {
  const report = numbers === null ? null : { verdict: "leaking_and_wet", measured: ["a"], proves: [], does_not_prove: [], next: [], numbers };
  return { step, steps: { [step]: { began: 0, ended: null, report } }, readings: {}, containers: [], mass_at: null, ...more };
}

test("without report and readings every step shows dashes, no nought", () => {
  for (const step of STEPS.filter((one) => one !== "charging")) {
    for (const numbers of [null, {}]) {
      const stage = stageOf(job(step, numbers), absolute);
      assert.equal(stage.digits, "–", step);
      assert.equal(stage.figures.length, 4);
      for (const [name, text] of stage.figures) assert.equal(text, "–", `${step}: ${name}`);
      assert.match(stage.plus, /unknown/);
    }
    assert.deepEqual(stageOf(job(step, null), absolute).verdict, { lead: "No verdict yet", choices: [] });
    assert.deepEqual(stageOf(job(step, {}), absolute).verdict, { lead: "Leaking and wet", choices: [] });
  }
});

// 312 g of 520 g is 60 %: arithmetic.
test("a recovery shows its mass, its share of the label and the cylinder", () => {
  const numbers = { recovered_kg: 0.312, recovered_u_kg: 0.001, label_kg: 0.52, pressure_abs_pa: 95000, held_s: 130 };
  const containers = [{ id: "R", use: "recovery", mounted: true, contents_kg: 4.5 }];
  const stage = stageOf(job("recovery", numbers, { containers, mass_at: 1 }), absolute);
  assert.deepEqual([stage.digits, stage.unit, plain(stage.plus)], ["312", "g", "± 2 g"]);
  assert.deepEqual(stage.figures.map(([, text]) => plain(text)), ["60 % of 520 g", "4500 g", "0.95 bar", "2 min 10 s"]);
  assert.equal(stageOf(job("recovery", numbers, { mass_at: 1 }), absolute).digits, "–");
  assert.equal(stageOf(job("recovery", numbers, { containers }), absolute).digits, "–");
});

test("an absolute vacuum gauge is shown in Pa and micron, a compound one as it reads", () => {
  const readings = { "vacuum/pressure": reading(66.66) };
  const stage = stageOf(job("vacuum_hold", {}, { readings }), absolute);
  assert.deepEqual([stage.digits, stage.unit, plain(stage.plus), stage.plot], ["67", "Pa", "500 micron", true]);
  const compound = stageOf(job("evacuation", { pressure_pa: 120 }, { readings: { "vacuum/pressure": reading(-101200) } }), () => true);
  assert.deepEqual([compound.digits, compound.unit, compound.plot], ["\u2212101.2", "kPa", false]);
  assert.match(compound.what, /against the air/);
  assert.equal(plain(compound.plus), "120 Pa absolute when last judged");
  assert.equal(stageOf(job("vacuum_hold", {}, { readings }), () => null).digits, "–");
});

test("a performance test shows the vent against what is allowed", () => {
  const numbers = { vent_allowed_k: 282.15, vent_allowed_k_u: 1.5, superheat_k: 6.24, superheat_k_u: 0.5, subcooling_k: -0.04 };
  const stage = stageOf(job("performance_test", numbers, { readings: { "vent/temperature": reading(7.36, "Cel") } }), absolute);
  assert.deepEqual([stage.digits, stage.unit, plain(stage.plus)], ["7.4", "°C", "allowed 9.0 °C ± 3.0 K"]);
  assert.deepEqual(stage.figures.slice(0, 2).map(([, text]) => plain(text)), ["6.2 K ± 1.0 K", "0.0 K"]);
});

test("a standing test says on what side and in what scale it reads", () => {
  const readings = { "low/pressure": reading(1_050_000), "high/pressure": reading(1_100_000) };
  const numbers = { fall_pa: 1200, fall_u_pa: 400, compensated: true, duration_s: 600, q_pa_m3_s: 3.2e-4, limit_q_pa_m3_s: 1e-3 };
  const stage = stageOf(job("pressure_test", numbers, { readings }), () => true);
  assert.deepEqual([stage.digits, stage.unit], ["10.5", "bar"]);
  assert.equal(stage.what, "pressure, low side, gauge, temperature taken out");
  assert.equal(plain(stage.plus), "fell by 1200 Pa ± 800 Pa");
  const said = (fall_pa) => plain(stageOf(job("pressure_test", { ...numbers, fall_pa }, { readings }), absolute).plus);
  for (const pa of [700, -1200]) assert.equal(said(pa), "no fall beyond 800 Pa");
  assert.deepEqual(stage.figures.map(([, text]) => plain(text)), ["–", "10 min 00 s", "3.2 × 10⁻⁴ Pa·m³/s", "1.0 × 10⁻³ Pa·m³/s"]);
});

test("only what is known is drawn: levels, the target first, the fit with its doubt", () => {
  const names = (numbers) => fitOf(numbers, 100).levels.map(({ name, pa }) => [name, pa]);
  assert.deepEqual(names({ target_pa: 50, ceiling_pa: 2300, plateau_pa: null }), [["target", 50], ["water boils", 2300]]);
  assert.deepEqual(names({ plateau_pa: -3 }), []);
  assert.equal(fitOf({ target_pa: 50 }, 100).levels[0].always, true);
  const nothing = { levels: [], settles: null, rise: null };
  assert.deepEqual(fitOf({}, 100), nothing);
  assert.deepEqual(fitOf({ start_pa: 10, rise_pa: 5, rise_u_pa: null, duration_s: 60 }, 100), nothing);
  const rise = { start_pa: 10, rise_pa: 5, rise_u_pa: 1, duration_s: 60 };
  assert.deepEqual(fitOf(rise, 100).rise, { fromPa: 10, pa: 5, u: 1, fromS: 40, toS: 100 });
  assert.equal(fitOf(rise, null).rise, null);
  assert.deepEqual(fitOf({ plateau_pa: 17, plateau_u_pa: 0.6 }, null).settles, { pa: 17, u: 0.6 });
});

// 500 micron = 66.66 Pa: conventional mmHg = 133.3224 Pa, NIST SP 811 (2008), appendix B.8.
test("units of a vacuum", () => {
  assert.equal(plain(units.otherVacuum(66.6612)), "500 micron");
  assert.equal(plain(units.otherVacuum(101325)), "760 000 micron");
  assert.equal(plain(units.vacuum(0.84)), "0.8 Pa");
  assert.equal(plain(units.vacuum(9.97)), "10 Pa");
  assert.equal(plain(units.vacuum(2534)), "2534 Pa");
  assert.equal(plain(units.vacuum(101325)), "101.3 kPa");
  assert.equal(plain(units.leak(0)), "0 Pa·m³/s");
  assert.equal(plain(units.leak(-2.34e-12)), "\u22122.3 × 10⁻¹² Pa·m³/s");
  assert.equal(plain(units.millilitres(15e-6)), "15 mL");
  for (const show of [units.vacuum, units.otherVacuum, units.leak, units.kelvins, units.millilitres]) {
    for (const unknown of [null, undefined, Number.NaN, "7"]) assert.equal(show(unknown), "–");
  }
  assert.equal(units.withDoubt(units.vacuum, null, 3), "–");
  assert.equal(plain(units.withDoubt(units.vacuum, 50, null)), "50 Pa");
});
