/** Axes of the vacuum drawing: pressure on a logarithmic axis, time on a linear one. Pure; any unit of pressure. */
import { known, span } from "./format.js";
import { t } from "./i18n.js";
import { vacuum } from "./units.js";

/** @typedef {{lo: number, hi: number}} Axis */

/** Round numbers: 1, 2 and 5 times the powers of ten that a gauge can show, whatever its unit. */
const ROUND = [-5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5, 6].flatMap((power) => [1, 2, 5].map((lead) => Number(`${lead}e${power}`)));
const NEAR = 1e-9;

/** @param {number} value */
export function below(value) {
  return ROUND.filter((round) => round <= value * (1 + NEAR)).at(-1) ?? ROUND[0];
}

/** @param {number} value */
export function above(value) {
  return ROUND.find((round) => round >= value * (1 - NEAR)) ?? value;
}

/**
 * An axis that holds all values, from one round number to another, at least a factor of four wide.
 * @param {(number | null | undefined)[]} values
 * @param {number} least what counts as nothing: zero has no place on this axis
 * @returns {Axis}
 */
export function logAxis(values, least) {
  const sound = values.filter(known).map((value) => Math.max(value, least));
  if (sound.length === 0) return { lo: below(100 * least), hi: above(1e6 * least) };
  const lo = below(Math.min(...sound));
  return { lo, hi: Math.max(above(Math.max(...sound)), above(lo * 4)) };
}

/**
 * Round numbers on the axis: 1-2-5 where it is short, powers of ten where it is long.
 * @param {Axis} axis
 */
export function ticks({ lo, hi }) {
  const inside = ROUND.filter((round) => round >= lo && round <= hi);
  return hi / lo > 150 ? inside.filter((round) => Math.abs(Math.log10(round) % 1) < NEAR) : inside;
}

/**
 * Height of a pressure above the foot of an axis of `length` pixels, held inside it.
 * @param {Axis} axis
 * @param {number} value
 * @param {number} length
 */
export function height(axis, value, length) {
  const share = value <= axis.lo ? 0 : Math.log(value / axis.lo) / Math.log(axis.hi / axis.lo);
  return Math.min(share, 1) * length;
}

/**
 * The time axis: all that was seen, at least a minute.
 * @param {{t: number}[]} points
 * @returns {Axis}
 */
export function timeAxis(points) {
  const first = points[0]?.t ?? 0;
  return { lo: first, hi: Math.max(points.at(-1)?.t ?? 0, first + 60) };
}

/**
 * The drawing in one sentence, for those who hear it.
 * @param {{t: number, v: number}[]} points Pa
 * @param {{name: string, pa: number}[]} levels
 */
export function sentence(points, levels) {
  const last = points.at(-1);
  if (last === undefined) return t("Absolute pressure against time: nothing seen yet.");
  const course = t("Absolute pressure over {span}: from {from} to {to}.", {
    span: span(last.t - points[0].t), from: vacuum(points[0].v), to: vacuum(last.v),
  });
  return [course, ...levels.map(({ name, pa }) => `${name}: ${vacuum(pa)}.`)].join(" ");
}
