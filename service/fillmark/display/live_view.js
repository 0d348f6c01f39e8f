/** The upper part: call, mass, window, figures. Everything here is legible from two metres. */
import { showBeside } from "./beside.js";
import { SHAPES, byId, put } from "./dom.js";
import * as format from "./format.js";
import { t } from "./i18n.js";
import { UNACKNOWLEDGED, SEVERITIES, pickCall } from "./stop_points.js";
import { drawWindow } from "./window_bar.js";

/** @typedef {{ageS: number | null, elapsedS: number, lost: boolean, massStale: boolean, gaugeStale: boolean}} Moment */

/** @type {Record<string, string>} */
const CALL_SHAPES = Object.freeze({ lost: "bolt", soon: "hourglass", calm: "ring" });

/** Whether the charged mass is known: before the scale has spoken nothing is. */
export function massKnown(/** @type {any} */ view) {
  return view.mass_at !== null && format.known(view.charged_kg);
}

/**
 * Things that change with the state of the job.
 * @param {any} view
 */
export function showState(view) {
  const known = massKnown(view);
  const { digits, unit } = format.massParts(known ? view.charged_kg : null);
  put(byId("mass-digits"), digits);
  byId("mass").dataset.length = String(digits.length);
  put(byId("mass-unit"), unit);
  put(byId("mass-u"), known ? format.plusMinus(view.charged_u_kg) : t("unknown"));
  put(byId("flow"), format.flow(view.flow_kg_s));
  put(byId("rest"), rest(view, known));
  put(byId("lands"), known ? format.mass(view.lands_if_shut_kg) : format.UNKNOWN);
  showBeside(view);
  drawWindow(byId("window-bar"), byId("window-title"), view, known);
}

/**
 * @param {any} view
 * @param {boolean} known
 */
function rest(view, known) {
  if (!known) return format.UNKNOWN;
  const left = view.aim_kg - view.charged_kg;
  if (Math.abs(left) < 0.0005) return format.mass(0);
  return left > 0 ? format.mass(left) : t("{mass} over", { mass: format.mass(-left) });
}

/**
 * Things that change by time alone.
 * @param {any} view
 * @param {Moment} moment
 */
export function showMoment(view, moment) {
  const closed = view.closed_at !== null;
  const stale = moment.lost || (moment.massStale && !closed);
  const section = byId("mass");
  section.dataset.stale = String(stale);
  byId("figures").dataset.stale = String(stale);
  for (const id of ["window", "beside-can", "containers", "sure-rows"]) byId(id).dataset.stale = String(stale);
  const silent = moment.ageS === null ? t("not live") : t("silent since {span}", { span: format.span(Math.floor(moment.ageS)) });
  const fresh = closed ? t("last mass of the job") : format.age(moment.ageS);
  put(byId("mass-age"), view.mass_at === null ? t("scale not heard yet") : stale ? silent : fresh);
  put(byId("aim-in"), aimIn(view, moment, stale || closed));
  const call = pickCall(view, moment);
  const box = byId("call");
  box.dataset.severity = call.severity;
  const shape = SEVERITIES[call.severity]?.shape
    ?? CALL_SHAPES[call.severity];
  byId("call-shape").setAttribute("d", SHAPES[shape]);
  box.dataset.long = String(call.word.length > 32);
  put(byId("call-word"), call.word);
  put(byId("call-detail"), call.detail);
  document.documentElement.dataset.call = call.severity;
  const point = call.point;
  byId("call-shut").hidden = !(point?.id === "close-valve-now");
  byId("call-detail").lang = call.own === false ? "en" : document.documentElement.lang;
  byId("call-acknowledge").hidden = point === null || !UNACKNOWLEDGED.has(point.state);
  return call;
}

/**
 * @param {any} view
 * @param {Moment} moment
 * @param {boolean} stale
 */
function aimIn(view, { elapsedS }, stale) {
  if (!format.known(view.aim_in_s)) return format.UNKNOWN;
  if (stale) return format.UNKNOWN;
  const left = view.aim_in_s - elapsedS;
  return left <= 0 ? t("reached") : format.about(left);
}

/**
 * The valve that feeds the circuit, as the call names it.
 * @param {any} view
 * @returns {"high" | "low" | "container"}
 */
export function feedingValve(view) {
  if (view.valves.high) return "high";
  return view.valves.low ? "low" : "container";
}
