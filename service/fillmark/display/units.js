/** Numbers of the steps as words for people. As in `format`: SI in, "–" for what is unknown. */
import { UNKNOWN, fixed, joined, known, parts } from "./format.js";
import { VACUA, inFahrenheit, vacuumUnit } from "./measure.js";

const SPACE = "\u00a0";
const MINUS = "\u2212";
const RAISED = "⁰¹²³⁴⁵⁶⁷⁸⁹";

/**
 * Absolute pressure of a vacuum, split so that the unit can be drawn smaller. Pascals give way to kilopascals.
 * @param {unknown} pressurePa
 * @returns {{digits: string, unit: string}}
 */
export function vacuumParts(pressurePa) {
  const unit = vacuumUnit();
  if (unit !== VACUA.Pa || !known(pressurePa) || Math.abs(pressurePa) < 9999.5) return parts(pressurePa, unit);
  return { digits: fixed(pressurePa / 1000, 1), unit: "kPa" };
}

/** @param {unknown} pressurePa */
export function vacuum(pressurePa) {
  return joined(vacuumParts(pressurePa));
}

/**
 * The same in the unit of the other trade: micron beside pascal, pascal beside all others.
 * @param {unknown} pressurePa
 */
export function otherVacuum(pressurePa) {
  if (!known(pressurePa)) return UNKNOWN;
  const other = vacuumUnit() === VACUA.Pa ? VACUA.micron : VACUA.Pa;
  return `${rounded(pressurePa / other.si)}${SPACE}${other.unit}`;
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
  if (!known(kelvins)) return UNKNOWN;
  return inFahrenheit() ? `${fixed(kelvins * 1.8, 1)}${SPACE}°F` : `${fixed(kelvins, 1)}${SPACE}K`;
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
