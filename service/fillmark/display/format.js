/**
 * Numbers as words for people. Every function answers "–" for what is unknown, never 0.
 * Inputs are SI: kg, kg/s, Pa, K, s. `null`, `undefined` and NaN stand for unknown.
 */

export const UNKNOWN = "–";
const SPACE = "\u00a0";
const MINUS = "\u2212";

/**
 * @param {unknown} value
 * @returns {value is number}
 */
export function known(value) {
  return typeof value === "number" && Number.isFinite(value);
}

/**
 * Digits with the typographic minus; a rounded −0 is 0.
 * @param {number} value
 * @param {number} digits decimals
 */
function fixed(value, digits) {
  const text = Math.abs(value).toFixed(digits);
  return value < 0 && Number(text) !== 0 ? MINUS + text : text;
}

/**
 * Mass split into digits and unit, so that the unit can be drawn smaller. Whole grams below 100 kg, then kilograms.
 * @param {unknown} massKg
 * @returns {{digits: string, unit: string}}
 */
export function massParts(massKg) {
  if (!known(massKg)) return { digits: UNKNOWN, unit: "g" };
  if (Math.abs(massKg) < 99.9995) return { digits: fixed(massKg * 1000, 0), unit: "g" };
  return { digits: fixed(massKg, 3), unit: "kg" };
}

/** @param {unknown} massKg */
export function mass(massKg) {
  const { digits, unit } = massParts(massKg);
  return digits === UNKNOWN ? UNKNOWN : digits + SPACE + unit;
}

/**
 * Expanded uncertainty 2u for show, rounded up: a page must not look surer than the numbers are.
 * @param {unknown} uKg standard uncertainty, kg
 */
export function plusMinus(uKg) {
  if (!known(uKg)) return "± unknown";
  return `±${SPACE}${Math.ceil(Math.abs(uKg) * 2000 - 1e-6)}${SPACE}g`;
}

/** @param {unknown} flowKgS */
export function flow(flowKgS) {
  return known(flowKgS) ? `${fixed(flowKgS * 1000, 1)}${SPACE}g/s` : UNKNOWN;
}

/**
 * Pressure in bar, two decimals below 10 bar and one above.
 * @param {unknown} pressurePa
 */
export function bar(pressurePa) {
  if (!known(pressurePa)) return UNKNOWN;
  const value = pressurePa / 1e5;
  return `${fixed(value, Math.abs(value) < 10 ? 2 : 1)}${SPACE}bar`;
}

/** @param {unknown} celsius */
export function celsius(celsius) {
  return known(celsius) ? `${fixed(celsius, 1)}${SPACE}°C` : UNKNOWN;
}

/** @param {unknown} kelvin */
export function kelvinAsCelsius(kelvin) {
  return known(kelvin) ? celsius(kelvin - 273.15) : UNKNOWN;
}

/**
 * Any reading by its SenML unit.
 * @param {unknown} value
 * @param {string | null | undefined} unit
 */
export function reading(value, unit) {
  if (!known(value)) return UNKNOWN;
  if (unit === "Pa") return bar(value);
  if (unit === "Cel") return celsius(value);
  if (unit === "kg") return mass(value);
  if (unit === "%RH") return `${fixed(value, 0)}${SPACE}% RH`;
  return fixed(value, 2) + (unit ? SPACE + unit : "");
}

/**
 * A span of time: "8 s", "2 min 05 s", "3 h 10 min".
 * @param {unknown} seconds
 */
export function span(seconds) {
  if (!known(seconds)) return UNKNOWN;
  const whole = Math.max(Math.round(seconds), 0);
  if (whole < 60) return `${whole}${SPACE}s`;
  const minutes = Math.floor(whole / 60);
  if (minutes < 60) return `${minutes}${SPACE}min${SPACE}${String(whole % 60).padStart(2, "0")}${SPACE}s`;
  return `${Math.floor(minutes / 60)}${SPACE}h${SPACE}${String(minutes % 60).padStart(2, "0")}${SPACE}min`;
}

/**
 * A prediction, as coarse as it is sure: nobody can read a number that jumps by ten seconds twice a second.
 * @param {unknown} seconds
 */
export function about(seconds) {
  if (!known(seconds)) return UNKNOWN;
  const step = seconds >= 120 ? 30 : seconds >= 60 ? 10 : seconds >= 20 ? 5 : 1;
  const rounded = Math.floor(Math.max(seconds, 0) / step) * step;
  if (step === 1) return span(rounded);
  return `≈${SPACE}${step === 30 ? `${rounded / 60}${SPACE}min` : `${rounded}${SPACE}s`}`;
}

/**
 * Age of a value: tenths while it is young, so that one sees it live.
 * @param {unknown} seconds
 */
export function age(seconds) {
  if (!known(seconds)) return "age unknown";
  if (seconds < 9.95) return `${Math.max(seconds, 0).toFixed(1)}${SPACE}s old`;
  return `${span(Math.floor(seconds))} old`;
}

/** @param {unknown} share 0 to 1 */
export function percent(share) {
  if (!known(share)) return UNKNOWN;
  const value = share * 100;
  if (value > 99 && value < 100) return `>${SPACE}99${SPACE}%`;
  if (value > 0 && value < 1) return `<${SPACE}1${SPACE}%`;
  return `${fixed(value, 0)}${SPACE}%`;
}

/**
 * "high-side-open-while-running" as words.
 * @param {string} id
 */
export function words(id) {
  const text = id.replace(/[-_/]+/g, " ").trim();
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/**
 * A line of the service with a capital letter.
 * @param {string} line
 */
export function sentence(line) {
  return line.charAt(0).toUpperCase() + line.slice(1);
}
