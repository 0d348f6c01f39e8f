/** Pressure on a logarithmic axis against enthalpy: the two-phase dome of the refrigerant and the measured points. */
import { draw } from "./dom.js";
import { kelvinAsCelsius, pressure } from "./format.js";
import { t } from "./i18n.js";
import { pressureUnit } from "./measure.js";
import { height, logAxis, ticks } from "./vacuum_scale.js";

/** In the order of the flow; where the label stands beside its point. */
const NAMES = Object.freeze({
  suction: { word: "suction", dx: 1, dy: 1 },
  discharge: { word: "discharge", dx: 1, dy: -1 },
  liquid: { word: "liquid line", dx: -1, dy: -1 },
  inlet: { word: "evaporator inlet", dx: -1, dy: 1 },
});
const LEAST_PA = 1e4;

/** @typedef {{name: keyof typeof NAMES, pressure_abs_pa: number, temperature_k: number | null, enthalpy_j_kg: number, live: boolean}} Point */
/** @typedef {{left: number, right: number, top: number, bottom: number, text: number}} Box */
/** @typedef {{box: Box, x: (j: number) => number, y: (pa: number) => number}} Place */

/**
 * The drawing in one sentence, for those who hear it.
 * @param {Point[]} points
 */
export function sentence(points) {
  if (points.length === 0) return t("Pressure against enthalpy: no place of the circuit is measured yet.");
  const places = points.map((point) => `${t(NAMES[point.name].word)} ${pressure(point.pressure_abs_pa)}${point.temperature_k === null ? "" : `, ${kelvinAsCelsius(point.temperature_k)}`}`);
  return `${t("Pressure against enthalpy.")} ${places.join("; ")}.`;
}

/**
 * @param {SVGElement} svg
 * @param {Element} title
 * @param {{dome: any[], points: Point[]} | null} found
 */
export function drawCycle(svg, title, found) {
  const width = svg.clientWidth;
  const tall = svg.clientHeight;
  title.textContent = sentence(found?.points ?? []);
  if (width < 50 || tall < 50 || found === null) return;
  svg.setAttribute("viewBox", `0 0 ${width} ${tall}`);
  const place = placed(found, width, tall);
  svg.replaceChildren(title, ...frame(place, found), ...dome(found.dome, place), ...circuit(found.points, place));
}

/**
 * @param {{dome: any[], points: Point[]}} found
 * @param {number} width
 * @param {number} tall
 * @returns {Place & {axis: import("./vacuum_scale.js").Axis, heat: import("./vacuum_scale.js").Axis}}
 */
function placed({ dome: edge, points }, width, tall) {
  const text = Math.min(Math.max(tall * 0.085, 14), 28);
  const box = { left: text * 3.6, right: width - text * 0.6, top: text * 1.6, bottom: tall - text * 1.6, text };
  const si = pressureUnit().si;
  const axis = logAxis([...points.map((one) => one.pressure_abs_pa / 1.3), ...edge.slice(4).map((one) => one.bubble_abs_pa)].map((pa) => pa / si), LEAST_PA / si);
  const heats = [...edge.flatMap((one) => [one.bubble_j_kg, one.dew_j_kg]), ...points.map((one) => one.enthalpy_j_kg)];
  const wide = Math.max(...heats) - Math.min(...heats);
  const heat = { lo: Math.min(...heats) - 0.05 * wide, hi: Math.max(...heats) + 0.14 * wide };
  return {
    box, axis, heat,
    x: (j) => box.left + ((j - heat.lo) / (heat.hi - heat.lo)) * (box.right - box.left),
    y: (pa) => box.bottom - height(axis, pa / si, box.bottom - box.top),
  };
}

/**
 * @param {ReturnType<typeof placed>} place
 * @param {{points: Point[]}} found
 */
function frame({ box, axis, heat, x, y }, { points }) {
  const { si, unit } = pressureUnit();
  const small = { "font-size": box.text };
  const levels = ticks(axis).flatMap((value) => [
    draw("path", { d: `M${box.left} ${y(value * si)}H${box.right}`, class: "grid" }),
    draw("text", { x: box.left - 6, y: y(value * si) + box.text * 0.35, "text-anchor": "end", ...small }, String(value)),
  ]);
  const step = 100e3;
  const heats = [];
  for (let j = Math.ceil(heat.lo / step) * step; j <= heat.hi; j += step) {
    heats.push(draw("path", { d: `M${x(j)} ${box.top}V${box.bottom}`, class: "grid" }));
    heats.push(draw("text", { x: x(j), y: box.bottom + box.text * 1.15, "text-anchor": "middle", ...small }, String(Math.round(j / 1000))));
  }
  const missing = points.length === 0 ? [draw("text", { x: box.left + box.text, y: box.bottom - box.text, ...small }, t("no place of the circuit is measured yet"))] : [];
  return [
    draw("rect", { x: box.left, y: box.top, width: box.right - box.left, height: box.bottom - box.top, class: "trough" }),
    ...levels, ...heats, ...missing,
    draw("text", { x: 0, y: box.text, ...small }, t("{unit} absolute", { unit })),
    draw("text", { x: box.right, y: box.text, "text-anchor": "end", ...small }, t("enthalpy, kJ/kg")),
  ];
}

/**
 * @param {any[]} edge from cold to hot
 * @param {Place} place
 */
function dome(edge, { x, y, box }) {
  const point = (/** @type {number} */ j, /** @type {number} */ pa) => `${x(j).toFixed(1)} ${y(pa).toFixed(1)}`;
  const on = (/** @type {number} */ pa) => y(pa) < box.bottom - 1;
  const up = edge.filter((one) => on(one.bubble_abs_pa)).map((one) => point(one.bubble_j_kg, one.bubble_abs_pa));
  const down = edge.filter((one) => on(one.dew_abs_pa)).map((one) => point(one.dew_j_kg, one.dew_abs_pa)).reverse();
  return up.length > 0 ? [draw("path", { d: `M${[...up, ...down].join("L")}`, class: "dome" })] : [];
}

/**
 * @param {Point[]} points
 * @param {Place} place
 */
function circuit(points, { x, y, box }) {
  const by = new Map(points.map((point) => [point.name, point]));
  const at = (/** @type {Point} */ point) => `${x(point.enthalpy_j_kg).toFixed(1)} ${y(point.pressure_abs_pa).toFixed(1)}`;
  const order = /** @type {(keyof typeof NAMES)[]} */ (Object.keys(NAMES));
  const strokes = order.flatMap((name, index) => {
    const from = by.get(name);
    const to = by.get(order[(index + 1) % order.length]);
    return from && to ? [draw("path", { d: `M${at(from)}L${at(to)}`, class: "course" })] : [];
  });
  const labels = points.flatMap((point) => {
    const { word, dx, dy } = NAMES[point.name];
    const where = point.temperature_k === null ? "" : ` ${kelvinAsCelsius(point.temperature_k)}`;
    const words = `${t(word)}${where}${point.live ? "" : ` (${t("old")})`}`;
    const room = words.length * box.text * 0.6;
    const wanted = x(point.enthalpy_j_kg) + dx * box.text * 0.5;
    const beside = { x: dx < 0 ? Math.max(wanted, box.left + room) : Math.min(wanted, box.right - room), y: y(point.pressure_abs_pa) + (dy < 0 ? -box.text * 0.5 : box.text * 1.15) };
    return [
      draw("circle", { cx: x(point.enthalpy_j_kg), cy: y(point.pressure_abs_pa), r: box.text * 0.4, class: point.temperature_k === null ? "lands" : "now" }),
      draw("text", { ...beside, "text-anchor": dx < 0 ? "end" : "start", "font-size": box.text, class: "level" }, words),
    ];
  });
  return [...strokes, ...labels];
}
