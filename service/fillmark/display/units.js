/** Numbers of the steps as words for people. As in `format`: SI in, "–" for what is unknown. */
import { UNKNOWN, known } from "./format.js";

const SPACE = "\u00a0";
const MINUS = "\u2212";
/** 1 micron (10⁻³ of the conventional mmHg) is 0.133 322 4 Pa: NIST SP 811 (2008), appendix B.8. */
export const MICRON_PA = 0.1333224;
const RAISED = "⁰¹²³⁴⁵⁶⁷⁸⁹";

/**
 * Digits with a thin gap between thousands and the typographic minus.
 * @param {number} value
 * @param {number} digits decimals
 */
function fixed(value, digits) {
  const [whole, rest] = Math.abs(value).toFixed(digits).split(".");
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, "\u202f") : whole;
  const text = rest === undefined ? grouped : `${grouped}.${rest}`;
  return value < 0 && Number(Math.abs(value).toFixed(digits)) !== 0 ? MINUS + text : text;
}

/**
 * Absolute pressure of a vacuum, split so that the unit can be drawn smaller.
 * @param {unknown} pressurePa
 * @returns {{digits: string, unit: string}}
 */
export function vacuumParts(pressurePa) {
  if (!known(pressurePa)) return { digits: UNKNOWN, unit: "Pa" };
  const size = Math.abs(pressurePa);
  if (size >= 9999.5) return { digits: fixed(pressurePa / 1000, 1), unit: "kPa" };
  return { digits: fixed(pressurePa, size < 9.95 ? 1 : 0), unit: "Pa" };
}

/** @param {unknown} pressurePa */
export function vacuum(pressurePa) {
  const { digits, unit } = vacuumParts(pressurePa);
  return digits === UNKNOWN ? UNKNOWN : digits + SPACE + unit;
}

/** @param {unknown} pressurePa */
export function micron(pressurePa) {
  if (!known(pressurePa)) return UNKNOWN;
  return `${rounded(pressurePa / MICRON_PA)}${SPACE}micron`;
}

/**
 * At most three significant digits, at most one decimal.
 * @param {number} value
 */
export function rounded(value) {
  const short = Number(value.toPrecision(3));
  return fixed(short, Math.abs(short) < 10 && !Number.isInteger(short) ? 1 : 0);
}

/**
 * Two significant digits times a power of ten.
 * @param {number} value
 */
function scientific(value) {
  const [lead, power] = Math.abs(value).toExponential(1).split("e");
  const raised = [...String(Math.abs(Number(power)))].map((digit) => RAISED[Number(digit)]).join("");
  return `${value < 0 ? MINUS : ""}${lead}${SPACE}×${SPACE}10${Number(power) < 0 ? "⁻" : ""}${raised}`;
}

/**
 * A leak's flow, Pa·m³/s.
 * @param {unknown} q
 */
export function leak(q) {
  return known(q) ? `${q === 0 ? "0" : scientific(q)} Pa·m³/s` : UNKNOWN;
}

/**
 * A difference of temperatures.
 * @param {unknown} kelvins
 */
export function kelvins(kelvins) {
  return known(kelvins) ? `${fixed(kelvins, 1)}${SPACE}K` : UNKNOWN;
}

/** @param {unknown} volumeM3 */
export function millilitres(volumeM3) {
  return known(volumeM3) ? `${fixed(volumeM3 * 1e6, 0)}${SPACE}mL` : UNKNOWN;
}

/**
 * A value with its expanded uncertainty 2u, each shown by the same function. Unknown u is left out.
 * @param {(value: unknown) => string} show
 * @param {unknown} value
 * @param {unknown} u standard uncertainty
 */
export function withDoubt(show, value, u) {
  if (!known(value)) return UNKNOWN;
  return known(u) ? `${show(value)} ±${SPACE}${show(2 * Math.abs(u))}` : show(value);
}
