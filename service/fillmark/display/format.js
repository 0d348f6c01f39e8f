/**
 * Numbers as words for people. Every function answers "–" for what is unknown, never 0.
 * Inputs are SI: kg, kg/s, Pa, K, s. `null`, `undefined` and NaN stand for unknown.
 */

import { t } from "./i18n.js";
import { MASSES, inFahrenheit, massUnit, pressureUnit } from "./measure.js";

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
 * Digits with a thin gap between thousands and the typographic minus; a rounded −0 is 0.
 * @param {number} value
 * @param {number} digits decimals
 */
export function fixed(value, digits) {
  const text = Math.abs(value).toFixed(digits);
  const [whole, rest] = text.split(".");
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, "\u202f") : whole;
  return (value < 0 && Number(text) !== 0 ? MINUS : "") + (rest === undefined ? grouped : `${grouped}.${rest}`);
}

/**
 * A value in a unit of `measure`, split so that the unit can be drawn smaller.
 * @param {unknown} value SI
 * @param {import("./measure.js").Unit} unit
 */
export function parts(value, unit) {
  if (!known(value)) return { digits: UNKNOWN, unit: unit.unit };
  const shown = value / unit.si;
  return { digits: fixed(shown, unit.digits(Math.abs(shown))), unit: unit.unit };
}

/** @param {{digits: string, unit: string}} split */
export function joined({ digits, unit }) {
  return digits === UNKNOWN ? UNKNOWN : digits + SPACE + unit;
}

/**
 * Mass split into digits and unit. Grams give way to kilograms at 100 kg.
 * @param {unknown} massKg
 * @returns {{digits: string, unit: string}}
 */
export function massParts(massKg) {
  const unit = massUnit();
  return parts(massKg, unit === MASSES.g && known(massKg) && Math.abs(massKg) >= 99.9995 ? MASSES.kg : unit);
}

/** @param {unknown} massKg */
export function mass(massKg) {
  return joined(massParts(massKg));
}

/**
 * Expanded uncertainty 2u for show, rounded up: a page must not look surer than the numbers are.
 * @param {unknown} uKg standard uncertainty, kg
 */
export function plusMinus(uKg) {
  if (!known(uKg)) return t("± unknown");
  const unit = massUnit();
  const shown = (2 * Math.abs(uKg)) / unit.si;
  const scale = 10 ** unit.digits(shown);
  return `±${SPACE}${fixed(Math.ceil(shown * scale - 1e-6) / scale, unit.digits(shown))}${SPACE}${unit.unit}`;
}

/** @param {unknown} flowKgS */
export function flow(flowKgS) {
  if (!known(flowKgS)) return UNKNOWN;
  const unit = massUnit();
  if (unit === MASSES.g) return `${fixed(flowKgS / unit.si, 1)}${SPACE}g/s`;
  return `${fixed((flowKgS * 60) / unit.si, unit.si < 0.1 ? 1 : 2)}${SPACE}${unit.unit}/min`;
}

/**
 * Pressure as a service port or a probe shows it.
 * @param {unknown} pressurePa
 */
export function pressureParts(pressurePa) {
  return parts(pressurePa, pressureUnit());
}

/** @param {unknown} pressurePa */
export function pressure(pressurePa) {
  return joined(pressureParts(pressurePa));
}

/** @param {unknown} celsius */
export function temperatureParts(celsius) {
  if (!known(celsius)) return { digits: UNKNOWN, unit: inFahrenheit() ? "°F" : "°C" };
  return inFahrenheit() ? { digits: fixed(celsius * 1.8 + 32, 1), unit: "°F" } : { digits: fixed(celsius, 1), unit: "°C" };
}

/** @param {unknown} celsius */
export function celsius(celsius) {
  return joined(temperatureParts(celsius));
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
  if (unit === "Pa") return pressure(value);
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
  if (!known(seconds)) return t("age unknown");
  const text = seconds < 9.95 ? `${Math.max(seconds, 0).toFixed(1)}${SPACE}s` : span(Math.floor(seconds));
  return t("{age} old", { age: text });
}

/** @param {unknown} share 0 to 1 */
export function percent(share) {
  if (!known(share)) return UNKNOWN;
  const value = share * 100;
  if (value > 99 && value < 100) return `>${SPACE}99${SPACE}%`;
  if (value > 0 && value < 1) return `<${SPACE}1${SPACE}%`;
  return `${fixed(value, 0)}${SPACE}%`;
}

const UNDECIDED = "undecided between ";

/** @typedef {{lead: string, choices: string[]}} Verdict `choices`: what it may be, where the service cannot tell */

/**
 * A verdict of a step: parts apart by commas and a colon are translated one by one.
 * @param {string} text
 * @returns {Verdict}
 */
export function verdict(text) {
  if (text.startsWith(UNDECIDED)) {
    return { lead: t("Undecided. One of these:"), choices: text.slice(UNDECIDED.length).split(" and ").map((one) => sentence(t(one))) };
  }
  const whole = words(text);
  if (t(whole) !== whole) return { lead: t(whole), choices: [] };
  const split = text.split(/(, | and |preliminary: )/).map((part) => t(part.replace(/_/g, " ")));
  return { lead: sentence(split.join("")), choices: [] };
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
