/** The drawing of the window: the whole charge as a thin bar, and under it a magnifier on the window. */
import { draw } from "./dom.js";
import { known, mass, plusMinus } from "./format.js";
import { t } from "./i18n.js";
import { lensAxis, outside, place, sentence, wholeAxis } from "./window_scale.js";

/** @typedef {import("./window_scale.js").Axis} Axis */

/**
 * @param {SVGElement} svg
 * @param {Element} title
 * @param {any} view the job
 * @param {boolean} known_ whether its mass is known
 */
export function drawWindow(svg, title, view, known_) {
  const width = svg.clientWidth;
  const height = svg.clientHeight;
  if (width < 50 || height < 50) return;
  const charged = known_ ? view.charged_kg : null;
  const u2 = known(view.charged_u_kg) ? 2 * view.charged_u_kg : 0;
  const lands = known_ ? view.lands_if_shut_kg : null;
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  const text = Math.min(Math.max(height * 0.14, 15), 40);
  const thin = Math.max(height * 0.1, 12);
  const lensTop = thin * 1.9 + text * 1.25;
  const box = { top: lensTop, height: height - lensTop - text * 1.45, width, text };
  const whole = wholeAxis(view.charge_max_kg, [charged === null ? null : charged + u2, lands]);
  const lens = lensAxis(view.charge_min_kg, view.charge_max_kg);
  svg.replaceChildren(
    title,
    pattern(),
    ...wholeBar(whole, lens, view, charged, thin, box),
    ...lensZone(lens, view, box),
    ...lensMass(lens, charged, u2, box),
    ...landing(lens, lands, box),
    ...limits(lens, view, box),
  );
  const words = {
    min: mass(view.charge_min_kg), aim: mass(view.aim_kg), max: mass(view.charge_max_kg),
    now: known(charged) ? mass(charged) : t("unknown"), u: known(charged) ? plusMinus(view.charged_u_kg) : "",
    lands: known(lands) ? mass(lands) : t("unknown"),
  };
  title.textContent = sentence(words);
}

/** @typedef {{top: number, height: number, width: number, text: number}} Box */

function pattern() {
  const defs = draw("defs", {});
  const hatch = draw("pattern", {
    id: "hatch", width: 9, height: 9, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)",
  });
  hatch.append(draw("rect", { width: 4, height: 9, class: "hatch" }));
  defs.append(hatch);
  return defs;
}

/**
 * @param {Axis} axis
 * @param {Axis} lens
 * @param {any} view
 * @param {number | null} charged
 * @param {number} thin
 * @param {Box} box
 */
function wholeBar(axis, lens, view, charged, thin, box) {
  const x = (/** @type {number} */ kg) => place(axis, kg, box.width);
  const parts = [
    draw("rect", { x: 0, y: 0, width: box.width, height: thin, class: "trough" }),
    draw("rect", {
      x: x(view.charge_min_kg), y: 0, width: Math.max(x(view.charge_max_kg) - x(view.charge_min_kg), 2), height: thin,
      class: "zone",
    }),
    // Two lines fan out to the magnifier.
    draw("path", {
      d: `M${x(lens.lo)} ${thin}L0 ${box.top}M${x(lens.hi)} ${thin}L${box.width} ${box.top}`, class: "fan",
    }),
  ];
  if (known(charged)) parts.splice(1, 0, draw("rect", { x: 0, y: 0, width: x(charged), height: thin, class: "fill" }));
  return parts;
}

/**
 * @param {Axis} axis
 * @param {any} view
 * @param {Box} box
 */
function lensZone(axis, view, box) {
  const from = place(axis, view.charge_min_kg, box.width);
  const to = place(axis, view.charge_max_kg, box.width);
  return [
    draw("rect", { x: 0, y: box.top, width: box.width, height: box.height, class: "trough" }),
    draw("rect", { x: from, y: box.top, width: Math.max(to - from, 3), height: box.height, class: "zone" }),
  ];
}

/**
 * @param {Axis} axis
 * @param {number | null} charged
 * @param {number} u2
 * @param {Box} box
 */
function lensMass(axis, charged, u2, box) {
  if (!known(charged)) return [];
  const x = place(axis, charged, box.width);
  const from = place(axis, charged - u2, box.width);
  const to = place(axis, charged + u2, box.width);
  const middle = box.top + box.height / 2;
  if (outside(axis, charged + u2) < 0) {
    return [draw("path", { d: `M4 ${middle}l${box.height * 0.3} ${-box.height * 0.3}v${box.height * 0.6}Z`, class: "now" })];
  }
  if (outside(axis, charged - u2) > 0) {
    const tip = box.width - 4;
    return [draw("path", { d: `M${tip} ${middle}l${-box.height * 0.3} ${-box.height * 0.3}v${box.height * 0.6}Z`, class: "now" })];
  }
  const inset = box.height * 0.22;
  return [
    draw("rect", { x: 0, y: box.top + inset, width: x, height: box.height - 2 * inset, class: "fill" }),
    draw("rect", { x: from, y: box.top + inset, width: Math.max(to - from, 2), height: box.height - 2 * inset, class: "band" }),
    draw("path", { d: `M${from} ${box.top + inset - 4}V${box.top + box.height - inset + 4}M${to} ${box.top + inset - 4}V${box.top + box.height - inset + 4}`, class: "whisker" }),
    draw("path", { d: `M${x} ${box.top}V${box.top + box.height}`, class: "needle" }),
  ];
}

/**
 * @param {Axis} axis
 * @param {number | null} lands
 * @param {Box} box
 */
function landing(axis, lands, box) {
  if (!known(lands) || outside(axis, lands) !== 0) return [];
  const x = place(axis, lands, box.width);
  const half = Math.max(box.height * 0.16, 9); // below the band, for both meet at the close call
  const middle = box.top + box.height - half;
  return [draw("path", { d: `M${x} ${middle - half}L${x + half} ${middle}L${x} ${middle + half}L${x - half} ${middle}Z`, class: "lands" })];
}

/**
 * Names of the limits: the window's ends below the magnifier, the aim above it.
 * @param {Axis} axis
 * @param {any} view
 * @param {Box} box
 */
function limits(axis, view, box) {
  const bottom = box.top + box.height;
  const x = (/** @type {number} */ kg) => place(axis, kg, box.width);
  const half = box.text * 3.2;
  const aimX = Math.min(Math.max(x(view.aim_kg), half), box.width - half);
  const label = (/** @type {number} */ at, /** @type {string} */ anchor, /** @type {string} */ words) =>
    draw("text", { x: at, y: bottom + box.text * 1.15, "font-size": box.text, "text-anchor": anchor }, words);
  const least = `${t("min")} ${mass(view.charge_min_kg)}`;
  const most = `${t("max")} ${mass(view.charge_max_kg)}`;
  const wide = (/** @type {string} */ words) => words.length * box.text * 0.68;
  const ends = [
    label(Math.max(x(view.charge_min_kg) + box.text * 0.6, wide(least)), "end", least),
    label(Math.min(x(view.charge_max_kg) - box.text * 0.6, box.width - wide(most)), "start", most),
  ];
  return [
    draw("path", { d: `M${x(view.charge_min_kg)} ${box.top}V${bottom + 6}M${x(view.charge_max_kg)} ${box.top}V${bottom + 6}`, class: "limit" }),
    draw("path", { d: `M${x(view.aim_kg)} ${box.top - 8}V${bottom}`, class: "aim" }),
    draw("text", { x: aimX, y: box.top - box.text * 0.45, "font-size": box.text, "text-anchor": "middle", class: "aim-text" }, `${t("aim")} ${mass(view.aim_kg)}`),
    ...ends,
  ];
}
