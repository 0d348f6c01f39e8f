/** The drawing of the vacuum gauge: absolute pressure on a logarithmic axis against time, in Pa and in micron. */
import { draw } from "./dom.js";
import { span } from "./format.js";
import { MICRON_PA, rounded, vacuum } from "./units.js";
import { height, logAxis, sentence, ticks, timeAxis } from "./vacuum_scale.js";

/** @typedef {import("./history.js").Point} Point */
/** @typedef {{left: number, right: number, top: number, bottom: number, text: number}} Box */

/**
 * @param {SVGElement} svg
 * @param {Element} title
 * @param {Point[]} points the newest last
 * @param {{name: string, pa: number}[]} levels
 */
export function drawVacuum(svg, title, points, levels) {
  const width = svg.clientWidth;
  const tall = svg.clientHeight;
  title.textContent = sentence(points);
  if (width < 50 || tall < 50) return;
  svg.setAttribute("viewBox", `0 0 ${width} ${tall}`);
  const text = Math.min(Math.max(tall * 0.085, 14), 24);
  const box = { left: text * 4.4, right: width - text * 4.6, top: text * 1.7, bottom: tall - text * 1.5, text };
  const seen = points.map(({ v }) => v);
  // A level far away would press the course flat.
  const nearby = levels.filter(({ pa }) => seen.length > 0 && pa > Math.min(...seen) / 6 && pa < Math.max(...seen) * 6);
  const axis = logAxis([...seen, ...nearby.map(({ pa }) => pa)]);
  const y = (/** @type {number} */ pa) => box.bottom - height(axis, pa, box.bottom - box.top);
  svg.replaceChildren(title, ...grid(ticks(axis), y, box), ...lines(nearby, y, box), ...course(points, y, box));
}

/**
 * @param {number[]} values
 * @param {(pa: number) => number} y
 * @param {Box} box
 */
function grid(values, y, box) {
  const room = Math.max(2, Math.floor((box.bottom - box.top) / (box.text * 1.2)) + 1);
  const every = Math.ceil(values.length / room);
  const parts = [draw("rect", { x: box.left, y: box.top, width: box.right - box.left, height: box.bottom - box.top, class: "trough" })];
  values.forEach((pa, index) => {
    parts.push(draw("path", { d: `M${box.left} ${y(pa)}H${box.right}`, class: "grid" }));
    if (index % every !== 0) return;
    const at = { y: y(pa) + box.text * 0.35, "font-size": box.text };
    parts.push(
      draw("text", { x: box.left - 6, "text-anchor": "end", ...at }, rounded(pa)),
      draw("text", { x: box.right + 6, ...at }, rounded(pa / MICRON_PA)),
    );
  });
  const head = { y: box.text, "font-size": box.text };
  parts.push(
    draw("text", { x: box.left - 6, "text-anchor": "end", ...head }, "Pa"),
    draw("text", { x: box.right + 6, ...head }, "micron"),
  );
  return parts;
}

/**
 * Levels to compare with, each with its name on it.
 * @param {{name: string, pa: number}[]} levels
 * @param {(pa: number) => number} y
 * @param {Box} box
 */
function lines(levels, y, box) {
  return levels.flatMap(({ name, pa }) => [
    draw("path", { d: `M${box.left} ${y(pa)}H${box.right}`, class: "aim" }),
    draw("text", {
      x: box.left + 6, y: y(pa) < box.top + box.text * 1.2 ? y(pa) + box.text : y(pa) - box.text * 0.3, "font-size": box.text,
    }, `${name} ${vacuum(pa)}`),
  ]);
}

/**
 * @param {Point[]} points
 * @param {(pa: number) => number} y
 * @param {Box} box
 */
function course(points, y, box) {
  const time = timeAxis(points);
  const x = (/** @type {number} */ t) => box.left + ((t - time.lo) / (time.hi - time.lo)) * (box.right - box.left);
  const foot = { y: box.bottom + box.text * 1.15, "font-size": box.text };
  const last = points.at(-1);
  if (last === undefined) return [draw("text", { x: box.left, ...foot }, "nothing seen yet")];
  const d = points.map(({ t, v }, index) => `${index === 0 ? "M" : "L"}${x(t).toFixed(1)} ${y(v).toFixed(1)}`).join("");
  return [
    draw("path", { d, class: "course" }),
    draw("circle", { cx: x(last.t), cy: y(last.v), r: box.text * 0.35, class: "now" }),
    draw("text", { x: box.left, ...foot }, `the last ${span(last.t - points[0].t)}`),
  ];
}
