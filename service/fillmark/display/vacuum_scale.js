/** Axes of the vacuum drawing: pressure on a logarithmic axis, time on a linear one. Pure. */
import { known, span } from "./format.js";
import { vacuum } from "./units.js";

/** @typedef {{lo: number, hi: number}} Axis */

/** Round numbers, Pa: 1, 2 and 5 times the powers of ten that a gauge can show. */
const ROUND = [-1, 0, 1, 2, 3, 4, 5].flatMap((power) => [1, 2, 5].map((lead) => Number(`${lead}e${power}`)));
const LEAST_PA = ROUND[0];
const NEAR = 1e-9;

/** @param {number} value */
export function below(value) {
  return ROUND.filter((round) => round <= value * (1 + NEAR)).at(-1) ?? LEAST_PA;
}

/** @param {number} value */
export function above(value) {
  return ROUND.find((round) => round >= value * (1 - NEAR)) ?? value;
}

/**
 * An axis that holds all values, from one round number to another, at least a factor of four wide.
 * @param {(number | null | undefined)[]} values Pa
 * @returns {Axis}
 */
export function logAxis(values) {
  const sound = values.filter(known).map((value) => Math.max(value, LEAST_PA));
  if (sound.length === 0) return { lo: 10, hi: 1e5 };
  const lo = below(Math.min(...sound));
  return { lo, hi: Math.max(above(Math.max(...sound)), above(lo * 4)) };
}

/**
 * Round numbers on the axis: 1-2-5 where it is short, powers of ten where it is long.
 * @param {Axis} axis
 */
export function ticks({ lo, hi }) {
  const inside = ROUND.filter((round) => round >= lo && round <= hi);
  return hi / lo > 150 ? inside.filter((round) => Number.isInteger(Math.log10(round))) : inside;
}

/**
 * Height of a pressure above the foot of an axis of `length` pixels, held inside it.
 * @param {Axis} axis
 * @param {number} pressurePa
 * @param {number} length
 */
export function height(axis, pressurePa, length) {
  const share = Math.log(Math.max(pressurePa, LEAST_PA) / axis.lo) / Math.log(axis.hi / axis.lo);
  return Math.min(Math.max(share, 0), 1) * length;
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
 * @param {{t: number, v: number}[]} points
 */
export function sentence(points) {
  const last = points.at(-1);
  if (last === undefined) return "Absolute pressure against time: nothing seen yet.";
  return `Absolute pressure over ${span(last.t - points[0].t)}: from ${vacuum(points[0].v)} to ${vacuum(last.v)}.`;
}
