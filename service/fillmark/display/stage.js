/**
 * The big place in a step other than charging: its number, what qualifies it, four figures and the verdict. Pure.
 */
import * as format from "./format.js";
import { t } from "./i18n.js";
import { said } from "./service_text.js";
import { title } from "./steps.js";
import { kelvins, leak, otherVacuum, vacuum, vacuumParts, withDoubt } from "./units.js";

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
    verdict: report?.verdict ? format.verdict(report.verdict) : { lead: t("No verdict yet"), choices: [] },
    said: /** @type {string[]} */ (report?.measured ?? []).map(said),
    cycle: view.step === "performance_test",
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
 * @typedef {{name: string, pa: number, kind: string, always?: boolean}} Level a line across the drawing
 * @typedef {{pa: number, u: number}} Settles
 * @typedef {{fromPa: number, pa: number, u: number, fromS: number, toS: number}} Rise
 * @typedef {{levels: Level[], settles: Settles | null, rise: Rise | null}} Fit
 */

/**
 * What to draw into the vacuum plot beside the gauge.
 * @param {Numbers} numbers
 * @param {number | null} untilS time of the newest reading
 * @returns {Fit}
 */
export function fitOf(numbers, untilS) {
  const { target_pa, ceiling_pa, plateau_pa, plateau_u_pa, start_pa, rise_pa, rise_u_pa, duration_s } = numbers;
  /** @type {[string, unknown, string][]} */
  const rows = [[t("target"), target_pa, "target"], [t("water boils"), ceiling_pa, "aim"], [t("settles"), plateau_pa, "aim"]];
  const levels = rows.flatMap(([name, pa, kind]) => (format.known(pa) && pa > 0 ? [{ name, pa, kind, always: kind === "target" }] : []));
  const { known } = format;
  const settles = known(plateau_pa) && known(plateau_u_pa) ? { pa: plateau_pa, u: plateau_u_pa } : null;
  const risen = known(start_pa) && known(rise_pa) && known(rise_u_pa) && known(duration_s) && known(untilS);
  const rise = risen ? { fromPa: start_pa, pa: rise_pa, u: rise_u_pa, fromS: untilS - duration_s, toS: untilS } : null;
  return { levels, settles, rise };
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
    plus: weighed ? format.plusMinus(numbers.recovered_u_kg) : t("unknown"),
    what: t(cylinders.length === 0 ? "recovered: no recovery cylinder yet" : "recovered, ± 95 % sure"),
    channel: "scale/mass",
    figures: [
      [t("Of the label"), share === null ? UNKNOWN : t("{share} of {mass}", { share: format.percent(share), mass: format.mass(label) })],
      [t("In the cylinder"), format.mass(mounted?.contents_kg)],
      [t("Circuit, absolute"), format.pressure(numbers.pressure_abs_pa)],
      [t("Below the limit for"), format.span(numbers.held_s)],
    ],
  };
}

/** @type {Maker} */
function pressureTest(view, numbers, readsGauge) {
  const channel = PRESSURES.find((name) => view.readings[name]) ?? null;
  const value = channel === null ? null : view.readings[channel].value;
  const gauge = channel === null ? null : readsGauge(channel);
  const { digits, unit } = format.pressureParts(value);
  const [fall, doubt] = [numbers.fall_pa, numbers.fall_u_pa];
  const freed = numbers.compensated === true ? t("temperature taken out") : "";
  const side = channel === null ? "" : t(channel === "low/pressure" ? "low side" : "high side");
  const scale = t(gauge === null ? "as the probe reads" : gauge ? "gauge" : "absolute");
  return {
    digits, unit,
    plus: !format.known(fall) ? t("change unknown")
      : fall > 2 * doubt ? t("fell by {pressure}", { pressure: withDoubt(vacuum, fall, doubt) }) : t("no fall beyond {pressure}", { pressure: vacuum(2 * doubt) }),
    what: [t("pressure"), side, scale, freed].filter(Boolean).join(", "),
    channel,
    figures: [
      [t("Fall by temperature alone"), vacuum(numbers.thermal_fall_pa)],
      [t("Standing for"), format.span(numbers.duration_s)],
      [t("Leak"), withDoubt(leak, numbers.q_pa_m3_s, numbers.q_u_pa_m3_s)],
      [t("Smallest that shows"), leak(numbers.limit_q_pa_m3_s)],
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
    const plus = format.known(judged) ? t("{pressure} absolute when last judged", { pressure: vacuum(judged) }) : t("absolute: unknown");
    return { ...vacuumParts(reading.value), plus, what: t("as the gauge reads, against the air"), channel };
  }
  const pa = vacuumPa(view, readsGauge);
  return {
    ...vacuumParts(pa),
    plus: format.known(pa) ? otherVacuum(pa) : t("unknown"),
    what: t(reading === undefined ? "vacuum gauge not heard yet" : "absolute pressure"),
    channel,
  };
}

/** @type {Maker} */
function evacuation(view, numbers, readsGauge) {
  return {
    ...gaugeStage(view, numbers, readsGauge),
    figures: [
      [t("Settles at"), withDoubt(vacuum, numbers.plateau_pa, numbers.plateau_u_pa)],
      numbers.to_target_s === 0 ? [t("Target"), t("reached")] : [t("Target in"), format.about(numbers.to_target_s)],
      [t("Water boils above"), format.kelvinAsCelsius(numbers.boils_below_k)],
      [t("Pumped for"), format.span(numbers.duration_s)],
    ],
  };
}

/** @type {Maker} */
function vacuumHold(view, numbers, readsGauge) {
  return {
    ...gaugeStage(view, numbers, readsGauge),
    figures: [
      [t("Rise"), withDoubt(vacuum, numbers.rise_pa, numbers.rise_u_pa)],
      [t("By temperature alone"), vacuum(numbers.thermal_rise_pa)],
      [t("Held for"), format.span(numbers.duration_s)],
      [t("Smallest leak that shows"), leak(numbers.limit_q_pa_m3_s)],
    ],
  };
}

/** @type {Maker} */
function performance(view, numbers) {
  const reading = view.readings["vent/temperature"];
  const { digits, unit } = format.temperatureParts(reading?.value);
  const allowed = format.kelvinAsCelsius(numbers.vent_allowed_k);
  const doubt = format.known(numbers.vent_allowed_k_u) ? ` ±\u00a0${kelvins(2 * numbers.vent_allowed_k_u)}` : "";
  return {
    digits, unit,
    plus: allowed === UNKNOWN ? t("allowed: unknown") : t("allowed {temperature}", { temperature: allowed + doubt }),
    what: t(reading === undefined ? "vent not heard yet" : "at the vent; allowed in this outside air"),
    channel: reading === undefined ? null : "vent/temperature",
    figures: [
      [t("Superheat"), withDoubt(kelvins, numbers.superheat_k, numbers.superheat_k_u)],
      [t("Subcooling"), withDoubt(kelvins, numbers.subcooling_k, numbers.subcooling_k_u)],
      [t("Evaporating"), format.kelvinAsCelsius(numbers.evaporating_k)],
      [t("Condensing"), format.kelvinAsCelsius(numbers.condensing_k)],
    ],
  };
}
