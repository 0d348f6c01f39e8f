/** Where masses lie on the two axes of the window drawing: the whole charge, and a magnifier on the window. */
import { t } from "./i18n.js";

/** @typedef {{lo: number, hi: number}} Axis */

/**
 * The whole charge: from nothing to beyond everything that is shown.
 * @param {number} maxKg upper end of the window
 * @param {(number | null | undefined)[]} others masses that must be on the axis
 * @returns {Axis}
 */
export function wholeAxis(maxKg, others) {
  const top = Math.max(maxKg, ...others.filter((value) => typeof value === "number" && Number.isFinite(value)).map(Number));
  return { lo: 0, hi: Math.max(top, 1e-3) * 1.08 };
}

/**
 * The magnifier: the window with room before it to see the charge come, and less behind it.
 * @param {number} minKg
 * @param {number} maxKg
 * @returns {Axis}
 */
export function lensAxis(minKg, maxKg) {
  const width = Math.max(maxKg - minKg, 0.04 * maxKg, 4e-3);
  const middle = (minKg + maxKg) / 2;
  return { lo: Math.max(middle - 1.5 * width, 0), hi: middle + 1.1 * width };
}

/**
 * Place of a mass on an axis of `length` pixels, held inside it.
 * @param {Axis} axis
 * @param {number} massKg
 * @param {number} length
 */
export function place(axis, massKg, length) {
  const share = (massKg - axis.lo) / (axis.hi - axis.lo);
  return Math.min(Math.max(share, 0), 1) * length;
}

/**
 * -1 left of the axis, 1 right of it, 0 on it.
 * @param {Axis} axis
 * @param {number} massKg
 */
export function outside(axis, massKg) {
  if (massKg < axis.lo) return -1;
  return massKg > axis.hi ? 1 : 0;
}

/**
 * The drawing in one sentence, for those who hear it.
 * @param {{min: string, aim: string, max: string, now: string, u: string, lands: string}} texts
 */
export function sentence(texts) {
  return t("Window {min} to {max}, aim {aim}. In the circuit {now} {u}. Shut now, it lands at {lands}.", texts);
}
