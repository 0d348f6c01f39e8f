/**
 * Units that people read: what one of them is in SI, and how many decimals suit it. Pure.
 * Factors: NIST SP 811 (2008), appendix B.8 (ounce and pound avoirdupois, psi, inch of mercury conventional, micron).
 */
import { settings } from "./settings.js";

/** @typedef {{si: number, digits: (size: number) => number, unit: string}} Unit `size`: magnitude in this unit */

const upTo = (/** @type {number} */ most, /** @type {number} */ inner, /** @type {number} */ outer) =>
  (/** @type {number} */ size) => (size < most ? inner : outer);

/** kg @type {Readonly<Record<string, Unit>>} */
export const MASSES = Object.freeze({
  g: { si: 1e-3, digits: () => 0, unit: "g" },
  kg: { si: 1, digits: upTo(9.9995, 3, 2), unit: "kg" },
  oz: { si: 0.028349523125, digits: upTo(99.995, 2, 1), unit: "oz" },
  lb: { si: 0.45359237, digits: upTo(9.9995, 3, 2), unit: "lb" },
});
/** Pa @type {Readonly<Record<string, Unit>>} */
export const PRESSURES = Object.freeze({
  bar: { si: 1e5, digits: upTo(10, 2, 1), unit: "bar" },
  kPa: { si: 1e3, digits: () => 0, unit: "kPa" },
  psi: { si: 6894.757, digits: upTo(100, 1, 0), unit: "psi" },
});
/** Pa, absolute @type {Readonly<Record<string, Unit>>} */
export const VACUA = Object.freeze({
  Pa: { si: 1, digits: upTo(9.95, 1, 0), unit: "Pa" },
  micron: { si: 0.1333224, digits: () => 0, unit: "micron" },
  inHg: { si: 3386.389, digits: upTo(0.995, 4, 2), unit: "inHg" },
  kPa: { si: 1e3, digits: upTo(0.995, 4, 2), unit: "kPa" },
});

export const massUnit = () => MASSES[settings.mass];
export const pressureUnit = () => PRESSURES[settings.pressure];
export const vacuumUnit = () => VACUA[settings.vacuum];
export const inFahrenheit = () => settings.temperature === "°F";
