/** The upper part: call, mass, window, figures. Everything here is legible from two metres. */
import { showBeside } from "./beside.js";
import { fitNumber } from "./big_number.js";
import { SHAPES, byId, put } from "./dom.js";
import { endingOf } from "./ending.js";
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
  put(byId("mass-unit"), unit);
  fitNumber(byId("mass"));
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
  const left = stale || closed || !format.known(view.aim_in_s) ? null : view.aim_in_s - moment.elapsedS;
  const reached = left !== null && left <= 0;
  put(byId("aim-name"), t(reached ? "Aim" : "Aim in"));
  put(byId("aim-in"), reached ? t("reached") : format.about(left));
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
  const ending = endingOf(point, view);
  byId("call-end").hidden = ending === null;
  if (ending !== null) put(byId("call-end"), t(ending.word));
  byId("call-detail").lang = call.own === false ? "en" : document.documentElement.lang;
  byId("call-acknowledge").hidden = point === null || !UNACKNOWLEDGED.has(point.state);
  return call;
}
