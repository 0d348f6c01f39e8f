/**
 * The big place in a step other than charging: its number, what qualifies it, four figures and the verdict. Pure.
 */
import * as format from "./format.js";
import { title } from "./steps.js";
import { kelvins, leak, micron, vacuum, vacuumParts, withDoubt } from "./units.js";

/**
 * @typedef {Record<string, unknown>} Numbers of the report
 * @typedef {(channel: string) => boolean | null} ReadsGauge null: unknown
 * @typedef {object} Stage `plus`: the line that qualifies the number; `channel`: whose age counts, null: not heard
 * @property {string} digits
 * @property {string} unit
 * @property {string} plus
 * @property {string} what
 * @property {string | null} channel
 * @property {[string, string][]} figures
 */

/** The standing test follows the first of these that speaks, as the service does. */
const PRESSURES = ["low/pressure", "high/pressure"];
const VACUUM = "vacuum/pressure";
const UNKNOWN = format.UNKNOWN;

/** @typedef {(view: any, numbers: Numbers, readsGauge: ReadsGauge) => Stage} Maker */

/** @type {Record<string, Maker>} */
const STAGES = { recovery, pressure_test: pressureTest, evacuation, vacuum_hold: vacuumHold, performance_test: performance };

/**
 * @param {any} view the job, a step other than charging being in progress
 * @param {ReadsGauge} readsGauge
 */
export function stageOf(view, readsGauge) {
  const report = view.steps[view.step]?.report ?? null;
  const made = STAGES[view.step](view, report?.numbers ?? {}, readsGauge);
  return {
    ...made,
    title: title(view.step),
    verdict: report?.verdict ? format.words(report.verdict) : "No verdict yet",
    said: /** @type {string[]} */ (report?.measured ?? []),
    plot: (view.step === "evacuation" || view.step === "vacuum_hold") && readsGauge(VACUUM) !== true,
  };
}

/**
 * Absolute pressure of the vacuum gauge now, Pa; null where the gauge does not say it.
 * @param {any} view
 * @param {ReadsGauge} readsGauge
 */
export function vacuumPa(view, readsGauge) {
  const reading = view.readings[VACUUM];
  return reading && readsGauge(VACUUM) === false && format.known(reading.value) ? reading.value : null;
}

/**
 * Levels to draw into the vacuum plot.
 * @param {Numbers} numbers
 * @returns {{name: string, pa: number}[]}
 */
export function levels(numbers) {
  const rows = [
    ["water boils", numbers.ceiling_pa], ["settles", numbers.plateau_pa],
  ];
  return rows.flatMap(([name, pa]) => (format.known(pa) && pa > 0 ? [{ name: String(name), pa }] : []));
}

/** @type {Maker} */
function recovery(view, numbers) {
  const cylinders = view.containers.filter((/** @type {any} */ row) => row.use === "recovery");
  const weighed = cylinders.length > 0 && view.mass_at !== null;
  const mass = weighed ? numbers.recovered_kg : null;
  const label = numbers.label_kg;
  const share = format.known(mass) && format.known(label) && label > 0 ? mass / label : null;
  const { digits, unit } = format.massParts(mass);
  const mounted = cylinders.find((/** @type {any} */ row) => row.mounted);
  return {
    digits, unit,
    plus: weighed ? format.plusMinus(numbers.recovered_u_kg) : "unknown",
    what: cylinders.length === 0 ? "recovered: no recovery cylinder yet" : "recovered, ± 2u",
    channel: "scale/mass",
    figures: [
      ["Of the label", share === null ? UNKNOWN : `${format.percent(share)} of ${format.mass(label)}`],
      ["In the cylinder", format.mass(mounted?.contents_kg)],
      ["Circuit, absolute", format.bar(numbers.pressure_abs_pa)],
      ["Below the limit for", format.span(numbers.held_s)],
    ],
  };
}

/** @type {Maker} */
function pressureTest(view, numbers, readsGauge) {
  const channel = PRESSURES.find((name) => view.readings[name]) ?? null;
  const value = channel === null ? null : view.readings[channel].value;
  const gauge = channel === null ? null : readsGauge(channel);
  const [digits, unit] = format.bar(value).split("\u00a0");
  const [fall, doubt] = [numbers.fall_pa, numbers.fall_u_pa];
  const freed = numbers.compensated === true ? ", temperature taken out" : "";
  const side = channel === null ? "" : `, ${channel.split("/")[0]} side`;
  const scale = gauge === null ? "as the probe reads" : gauge ? "gauge" : "absolute";
  return {
    digits, unit: unit ?? "bar",
    plus: !format.known(fall) ? "change unknown"
      : fall > 2 * doubt ? `fell by ${withDoubt(vacuum, fall, doubt)}` : `no fall beyond ${vacuum(2 * doubt)}`,
    what: `pressure${side}, ${scale}${freed}`,
    channel,
    figures: [
      ["Fall by temperature alone", vacuum(numbers.thermal_fall_pa)],
      ["Standing for", format.span(numbers.duration_s)],
      ["Leak", withDoubt(leak, numbers.q_pa_m3_s, numbers.q_u_pa_m3_s)],
      ["Smallest that shows", leak(numbers.limit_q_pa_m3_s)],
    ],
  };
}

/**
 * @param {any} view
 * @param {Numbers} numbers
 * @param {ReadsGauge} readsGauge
 */
function gaugeStage(view, numbers, readsGauge) {
  const reading = view.readings[VACUUM];
  const channel = reading === undefined ? null : VACUUM;
  if (reading !== undefined && readsGauge(VACUUM) === true) {
    const judged = numbers.pressure_pa;
    const plus = format.known(judged) ? `${vacuum(judged)} absolute when last judged` : "absolute: unknown";
    return { ...vacuumParts(reading.value), plus, what: "as the gauge reads, against the air", channel };
  }
  const pa = vacuumPa(view, readsGauge);
  return {
    ...vacuumParts(pa),
    plus: format.known(pa) ? micron(pa) : "unknown",
    what: reading === undefined ? "vacuum gauge not heard yet" : "absolute pressure",
    channel,
  };
}

/** @type {Maker} */
function evacuation(view, numbers, readsGauge) {
  return {
    ...gaugeStage(view, numbers, readsGauge),
    figures: [
      ["Settles at", withDoubt(vacuum, numbers.plateau_pa, numbers.plateau_u_pa)],
      ["Target in", numbers.to_target_s === 0 ? "reached" : format.about(numbers.to_target_s)],
      ["Water boils above", format.kelvinAsCelsius(numbers.boils_below_k)],
      ["Pumped for", format.span(numbers.duration_s)],
    ],
  };
}

/** @type {Maker} */
function vacuumHold(view, numbers, readsGauge) {
  return {
    ...gaugeStage(view, numbers, readsGauge),
    figures: [
      ["Rise", withDoubt(vacuum, numbers.rise_pa, numbers.rise_u_pa)],
      ["By temperature alone", vacuum(numbers.thermal_rise_pa)],
      ["Held for", format.span(numbers.duration_s)],
      ["Smallest leak that shows", leak(numbers.limit_q_pa_m3_s)],
    ],
  };
}

/** @type {Maker} */
function performance(view, numbers) {
  const reading = view.readings["vent/temperature"];
  const [digits, unit] = format.celsius(reading?.value).split("\u00a0");
  const allowed = format.kelvinAsCelsius(numbers.vent_allowed_k);
  const doubt = format.known(numbers.vent_allowed_k_u) ? ` ±\u00a0${kelvins(2 * numbers.vent_allowed_k_u)}` : "";
  return {
    digits, unit: unit ?? "°C",
    plus: allowed === UNKNOWN ? "allowed: unknown" : `allowed ${allowed}${doubt}`,
    what: reading === undefined ? "vent not heard yet" : "at the vent; what the air outside allows",
    channel: reading === undefined ? null : "vent/temperature",
    figures: [
      ["Superheat", withDoubt(kelvins, numbers.superheat_k, numbers.superheat_k_u)],
      ["Subcooling", withDoubt(kelvins, numbers.subcooling_k, numbers.subcooling_k_u)],
      ["Evaporating", format.kelvinAsCelsius(numbers.evaporating_k)],
      ["Condensing", format.kelvinAsCelsius(numbers.condensing_k)],
    ],
  };
}
