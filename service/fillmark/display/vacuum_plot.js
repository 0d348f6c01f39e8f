/**
 * The drawing of the vacuum gauge: absolute pressure on a logarithmic axis against time, in the chosen unit and in that
 * of the other trade, with the target, what the fit says, and the fit's doubt.
 */
import { draw } from "./dom.js";
import { span } from "./format.js";
import { t } from "./i18n.js";
import { VACUA, vacuumUnit } from "./measure.js";
import { rounded, vacuum } from "./units.js";
import { height, logAxis, sentence, ticks, timeAxis } from "./vacuum_scale.js";

/** What counts as nothing on a logarithmic axis. */
const LEAST_PA = 0.1;

/** @typedef {import("./history.js").Point} Point */
/** @typedef {import("./stage.js").Fit} Fit */
/** @typedef {{left: number, right: number, top: number, bottom: number, text: number}} Box */
/** @typedef {{box: Box, y: (pa: number) => number, x: (t: number) => number}} Place */

/**
 * @param {SVGElement} svg
 * @param {Element} title
 * @param {Point[]} points Pa, the newest last
 * @param {Fit} fit
 */
export function drawVacuum(svg, title, points, fit) {
  const width = svg.clientWidth;
  const tall = svg.clientHeight;
  title.textContent = sentence(points, fit.levels);
  if (width < 50 || tall < 50) return;
  svg.setAttribute("viewBox", `0 0 ${width} ${tall}`);
  const text = Math.min(Math.max(tall * 0.085, 14), 28);
  const box = { left: text * 4.4, right: width - text * 4.6, top: text * 1.7, bottom: tall - text * 1.5, text };
  const seen = points.map(({ v }) => v);
  // A level far away would press the course flat; the target is always on the axis, for it is what all is about.
  const near = fit.levels.filter(({ pa, always }) => always || (seen.length > 0 && pa > Math.min(...seen) / 6 && pa < Math.max(...seen) * 6));
  const si = vacuumUnit().si;
  const axis = logAxis([...seen, ...near.map(({ pa }) => pa)].map((pa) => pa / si), LEAST_PA / si);
  const time = timeAxis(points);
  const place = {
    box,
    y: (/** @type {number} */ pa) => box.bottom - height(axis, pa / si, box.bottom - box.top),
    x: (/** @type {number} */ at) => box.left + ((at - time.lo) / (time.hi - time.lo)) * (box.right - box.left),
  };
  svg.replaceChildren(title, ...grid(ticks(axis).map((value) => value * si), place), ...doubt(fit, place), ...lines(near, place), ...course(points, place));
}

/**
 * @param {number[]} values Pa
 * @param {Place} place
 */
function grid(values, { box, y }) {
  const unit = vacuumUnit();
  const other = unit === VACUA.Pa ? VACUA.micron : VACUA.Pa;
  const room = Math.max(2, Math.floor((box.bottom - box.top) / (box.text * 1.2)) + 1);
  const every = Math.ceil(values.length / room);
  const parts = [draw("rect", { x: box.left, y: box.top, width: box.right - box.left, height: box.bottom - box.top, class: "trough" })];
  values.forEach((pa, index) => {
    parts.push(draw("path", { d: `M${box.left} ${y(pa)}H${box.right}`, class: "grid" }));
    if (index % every !== 0) return;
    const at = { y: y(pa) + box.text * 0.35, "font-size": box.text };
    parts.push(
      draw("text", { x: box.left - 6, "text-anchor": "end", ...at }, String(Number((pa / unit.si).toPrecision(3)))),
      draw("text", { x: box.right + 6, ...at }, rounded(pa / other.si)),
    );
  });
  const head = { y: box.text, "font-size": box.text };
  parts.push(
    draw("text", { x: box.left - 6, "text-anchor": "end", ...head }, unit.unit),
    draw("text", { x: box.right + 6, ...head }, other.unit),
  );
  return parts;
}

/**
 * What the fit says, as far as it is sure: the level it settles at, or the rise that it sees, each within 2u.
 * @param {Fit} fit
 * @param {Place} place
 */
function doubt({ settles, rise }, { box, x, y }) {
  const parts = [];
  if (settles) {
    const high = y(settles.pa + 2 * settles.u);
    const low = y(Math.max(settles.pa - 2 * settles.u, 0));
    parts.push(draw("rect", { x: box.left, y: high, width: box.right - box.left, height: Math.max(low - high, 2), class: "doubt" }));
  }
  if (rise) {
    const end = rise.fromPa + rise.pa;
    const from = Math.max(x(rise.fromS), box.left);
    const to = x(rise.toS);
    parts.push(
      draw("path", { d: `M${from} ${y(rise.fromPa)}L${to} ${y(end + 2 * rise.u)}V${y(Math.max(end - 2 * rise.u, 0))}Z`, class: "doubt" }),
      draw("path", { d: `M${from} ${y(rise.fromPa)}L${to} ${y(end)}`, class: "fit" }),
    );
  }
  return parts;
}

/**
 * Levels to compare with, each with its name on it.
 * @param {import("./stage.js").Level[]} levels
 * @param {Place} place
 */
function lines(levels, { box, y }) {
  /** @type {number[]} */
  const taken = [];
  return levels.flatMap(({ name, pa, kind }) => {
    let at = y(pa) < box.top + box.text * 1.2 ? y(pa) + box.text : y(pa) - box.text * 0.3;
    while (taken.some((other) => Math.abs(other - at) < box.text)) at -= box.text;
    taken.push(at);
    // The others stand in the middle: on the left the pressure falls through them.
    const place = kind === "target" ? { x: box.right - 6, "text-anchor": "end" } : { x: (box.left + box.right) / 2, "text-anchor": "middle" };
    return [
      draw("path", { d: `M${box.left} ${y(pa)}H${box.right}`, class: kind }),
      draw("text", { ...place, y: at, "font-size": box.text, class: "level" }, `${name} ${vacuum(pa)}`),
    ];
  });
}

/**
 * @param {Point[]} points
 * @param {Place} place
 */
function course(points, { box, x, y }) {
  const foot = { y: box.bottom + box.text * 1.15, "font-size": box.text };
  const last = points.at(-1);
  if (last === undefined) return [draw("text", { x: box.left, ...foot }, t("nothing seen yet"))];
  const d = points.map(({ t: at, v }, index) => `${index === 0 ? "M" : "L"}${x(at).toFixed(1)} ${y(v).toFixed(1)}`).join("");
  return [
    draw("path", { d, class: "course" }),
    draw("circle", { cx: x(last.t), cy: y(last.v), r: box.text * 0.35, class: "now" }),
    draw("text", { x: box.left, ...foot }, t("the last {span}", { span: span(last.t - points[0].t) })),
  ];
}
