/** Sentences of the service in the reader's language and units. */
import { fixed, sentence } from "./format.js";
import { fromService } from "./i18n.js";
import { MASSES, PRESSURES, VACUA, inFahrenheit, massUnit, pressureUnit, vacuumUnit } from "./measure.js";

/** One number or several that share a unit: "401 ± 3 g", "700 to 740 g". */
const NUMBERS = /([-\u2212]?\d+(?:\.\d+)?(?:e[+-]?\d+)?(?:\s(?:to|bis|±)\s[-\u2212]?\d+(?:\.\d+)?)*)\s(g|bar|Pa|°C)(?![\w/·])/g;

/** @typedef {{from: number, to: () => import("./measure.js").Unit}} Change */

/** @type {Record<string, Change>} */
const CHANGES = {
  g: { from: MASSES.g.si, to: massUnit },
  bar: { from: PRESSURES.bar.si, to: pressureUnit },
  Pa: { from: VACUA.Pa.si, to: vacuumUnit },
};

/**
 * Numbers of a sentence in the units that were chosen.
 * @param {string} text
 */
export function reunited(text) {
  return text.replace(NUMBERS, (whole, numbers, unit) => {
    if (unit === "°C") return inFahrenheit() ? `${each(numbers, fahrenheit)} °F` : whole;
    const { from, to } = CHANGES[unit];
    const wanted = to();
    if (wanted.unit === unit) return whole;
    return `${each(numbers, (value) => inUnit(value * from, wanted))} ${wanted.unit}`;
  });
}

/**
 * @param {string} numbers
 * @param {(value: number, doubt: boolean) => string} show
 */
function each(numbers, show) {
  return numbers.replace(/(±\s)?([-\u2212]?\d+(?:\.\d+)?(?:e[+-]?\d+)?)/g, (_, doubt, digits) =>
    (doubt ?? "") + show(Number(digits.replace("\u2212", "-")), doubt !== undefined));
}

/**
 * @param {number} si
 * @param {import("./measure.js").Unit} unit
 */
function inUnit(si, unit) {
  const shown = si / unit.si;
  return fixed(shown, unit.digits(Math.abs(shown)));
}

/**
 * @param {number} celsius
 * @param {boolean} doubt a difference: no 32 degrees
 */
function fahrenheit(celsius, doubt) {
  return fixed(celsius * 1.8 + (doubt ? 0 : 32), 1);
}

/**
 * @param {string} text of the service
 * @returns {{text: string, own: boolean}}
 */
export function said(text) {
  const { text: found, own } = fromService(text);
  return { text: sentence(reunited(found)), own };
}

/**
 * The same as text alone.
 * @param {string} text
 */
export function saidText(text) {
  return said(text).text;
}
