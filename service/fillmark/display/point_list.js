/** The list of stop points: severity in shape, word and colour, text, what to do, and a button as large as a glove. */
import { byId, make, mark, put, rebuild } from "./dom.js";
import { SEVERITIES, UNACKNOWLEDGED, isActive, key, nameOf, stateWord } from "./stop_points.js";
import { span } from "./format.js";
import { t } from "./i18n.js";
import { said, saidText } from "./service_text.js";

/** @typedef {import("./stop_points.js").StopPoint} StopPoint */
/** @typedef {(action: Record<string, unknown>, button: HTMLButtonElement) => void} Send */

/**
 * @param {any} view
 * @param {Send} send
 */
export function showPoints(view, send) {
  const points = /** @type {StopPoint[]} */ (view.active);
  const closed = view.closed_at !== null;
  const fingerprint = JSON.stringify([closed, ...points.map((point) => [key(point), point.state, point.at])]);
  byId("points-none").hidden = points.length > 0;
  rebuild(byId("points"), fingerprint, () => points.map((point) => row(point, closed ? null : send)));
  // The sentence of an active point changes with its numbers; the buttons beside it must not move.
  points.forEach((point, index) => {
    const text = byId("points").children[index]?.querySelector(".text");
    if (text) put(text, saidText(point.text));
  });
}

/**
 * Count on how long ago each was raised.
 * @param {import("./clock.js").ServerClock} clock
 */
export function showRaised(clock) {
  for (const element of document.querySelectorAll("[data-raised]")) {
    const ageS = clock.ageS(Number(/** @type {HTMLElement} */ (element).dataset.raised));
    put(element, t("raised {span} ago", { span: span(ageS === null ? null : Math.floor(ageS)) }));
  }
}

/**
 * A sentence of the service; where it is not in the reader's language it says so to those who hear it.
 * @param {string} kind
 * @param {string} sentence
 */
function spoken(kind, sentence) {
  const { text, own } = said(sentence);
  return make("p", own ? { class: kind } : { class: kind, lang: "en" }, text);
}

/**
 * @param {StopPoint} point
 * @param {Send | null} send null: the job is closed, nothing can be done any more
 */
function row(point, send) {
  const { word, shape } = SEVERITIES[point.severity] ?? SEVERITIES.critical;
  const item = make("li", { "data-severity": point.severity, "data-active": String(isActive(point)) });
  item.append(
    mark(shape),
    make(
      "div",
      {},
      make("h3", {}, nameOf(point)),
      make("p", { class: "state" }, `${t(word)} · ${t(stateWord(point.state))}`),
      make("p", { class: "raised", "data-raised": String(point.at) }),
      spoken("text", point.text),
      spoken("do", point.what),
      make("details", {}, make("summary", {}, t("Why")), spoken("why", point.why), make("p", {}, t("Source: {source}.", { source: saidText(point.source) }))),
    ),
    ...(send === null ? [] : [buttons(point, send)]),
  );
  return item;
}

/**
 * @param {StopPoint} point
 * @param {Send} send
 */
function buttons(point, send) {
  const box = make("div", { class: "buttons" });
  const add = (/** @type {string} */ label, /** @type {Record<string, unknown>} */ action) => {
    const button = /** @type {HTMLButtonElement} */ (make("button", { type: "button" }, label));
    button.setAttribute("aria-label", `${label}: ${nameOf(point)}`);
    button.addEventListener("click", () => send(action, button));
    box.append(button);
  };
  const about = { stop_point: point.id, subject: point.subject };
  if (UNACKNOWLEDGED.has(point.state)) add(t("Acknowledge"), { type: "stop_point.acknowledge", ...about });
  if (point.state.startsWith("latched")) add(t("Reset"), { type: "stop_point.reset", ...about });
  if (point.id === "unexplained-mass-step" && isActive(point)) {
    add(t("Something on the pan was handled"), { type: "mass_step", was: "handling" });
    add(t("It was refrigerant"), { type: "mass_step", was: "refrigerant" });
  }
  return box;
}
