/** What a display does with stop points: their order, the call shown large, what is spoken. Pure. */
import { about, mass, words } from "./format.js";
import { t } from "./i18n.js";
import { said, saidText } from "./service_text.js";
import { bigStep, nextStep, title } from "./steps.js";

/**
 * @typedef {{id: string, subject: string, severity: string, state: string, at: number, text: string, what: string,
 *   why: string, source: string}} StopPoint
 * @typedef {{severity: string, word: string, detail: string, point: StopPoint | null, own?: boolean}} Call own: in the reader's language
 */

/** Severities: word and shape beside the colour. `seldom` is the pause between two alarms, s; null: sounds once. */
/** @type {Record<string, {word: string, shape: string, seldomS: number | null}>} */
export const SEVERITIES = Object.freeze({
  critical: { word: "Act now", shape: "octagon", seldomS: 1 },
  warning: { word: "Before going on", shape: "triangle", seldomS: null },
  notice: { word: "Good to know", shape: "circle", seldomS: null },
});

/** States in which a stop point waits for the technician's acknowledgement. */
export const UNACKNOWLEDGED = new Set([
  "unacknowledged active",
  "returned to normal unacknowledged",
  "latched unacknowledged",
]);
/** A flow that is more than the noise of a scale, kg/s. */
const WORTH_ASKING_KG_S = 0.5e-3;
const ACTIVE = new Set(["unacknowledged active", "acknowledged active"]);
/** @type {Record<string, string>} */
const STATE_WORDS = Object.freeze({
  "unacknowledged active": "going on",
  "acknowledged active": "going on, acknowledged",
  "returned to normal unacknowledged": "over, not acknowledged",
  "latched unacknowledged": "over, stays until it is reset",
  "latched acknowledged": "over, stays until it is reset",
});

/** @param {string} state */
export function stateWord(state) {
  return STATE_WORDS[state] ?? state;
}

/** @param {StopPoint} point */
export function isActive(point) {
  return ACTIVE.has(point.state);
}

/**
 * The one that a hand answers: the most pressing of those that hold.
 * @param {any} view
 * @returns {StopPoint | null}
 */
export function firstActive(view) {
  return view.active.find(isActive) ?? null;
}

/**
 * Name of a channel for people: "scale/mass" is the scale.
 * @param {string} channel
 */
export function channelName(channel) {
  const bare = channel === "scale/mass" ? "scale" : channel.replace(/\/(temperature|humidity)$/, "");
  return t(words(bare));
}

/** @param {StopPoint} point */
export function nameOf(point) {
  const subject = point.subject.includes("/") ? channelName(point.subject) : point.subject;
  return t(words(point.id)) + (subject ? `: ${subject}` : "");
}

/** @param {StopPoint} point */
export function key(point) {
  return `${point.id} ${point.subject}`;
}

/**
 * What to do, or what is silent, and the numbers. Those of the close call are the present ones, not the ones when it
 * was raised: they move while the technician reaches for the valve.
 * @param {StopPoint} point
 * @param {any} view
 * @returns {{word: string, detail: string, own?: boolean}}
 */
export function headline(point, view) {
  const [, first, rest] = /^(.*?)[:.] (.*)$/s.exec(point.text) ?? [];
  if (point.id === "reading-stale" && rest) return spokenCall(first, rest);
  if (point.id !== "close-valve-now") return spokenCall(point.what, point.text);
  const detail = t("Shut by your hand now, it ends at {lands}; aim {aim}.", { lands: mass(view.lands_if_called_kg), aim: mass(view.aim_kg) });
  return { word: t(first ?? "Close the valve now"), detail };
}

/**
 * @param {string} word
 * @param {string} detail
 */
function spokenCall(word, detail) {
  const { text, own } = said(detail);
  return { word: saidText(word).split(";")[0].replace(/\.$/, ""), detail: text, own };
}

/**
 * The one thing to say large. Critical ones come before a lost connection, because they were true when it was lost
 * and nothing says that they are over. A closed job calls no more.
 * @param {any} view the job
 * @param {{lost: boolean, massStale: boolean, gaugeStale?: boolean, elapsedS: number}} now
 * @returns {Call}
 */
export function pickCall(view, { lost, massStale, gaugeStale = false, elapsedS }) {
  const peace = () => betweenSteps(view, gaugeStale) ?? quiet(view, massStale, elapsedS);
  if (view.closed_at !== null) return peace();
  const active = /** @type {StopPoint[]} */ (view.active).filter(isActive);
  const first = active.find((point) => point.severity === "critical");
  if (first) return { severity: "critical", ...headline(first, view), point: first };
  if (lost) {
    const weighs = bigStep(view) === null;
    const detail = t(weighs
      ? "What is shown is old. Shut the valve, or read the scale itself."
      : "What is shown is old. Read the gauges and the scale themselves.");
    return { severity: "lost", word: t(weighs ? "Weighing blind" : "Watching blind"), detail, point: null };
  }
  const warning = active.find((point) => point.severity === "warning");
  if (warning) return { severity: "warning", ...headline(warning, view), point: warning };
  return peace();
}

/**
 * @param {string} word
 * @param {string} detail
 * @returns {Call}
 */
function calm(word, detail) {
  return { severity: "calm", word: t(word), detail: t(detail), point: null };
}

/**
 * Nothing presses and no charge is weighed: the step in progress, or the one to come. Null: the charge speaks.
 * @param {any} view
 * @param {boolean} gaugeStale the step's own gauge was heard and is silent
 * @returns {Call | null}
 */
function betweenSteps(view, gaugeStale) {
  if (view.closed_at !== null) return null;
  const step = bigStep(view);
  if (step !== null) {
    const next = view.steps[step]?.report?.next[0] ?? "";
    if (gaugeStale) return calm("The gauge is silent", "What is shown is old. Look at the gauge and its connection.");
    const { text, own } = said(next);
    return { ...calm(t("{step} in progress", { step: title(step) }), text), own };
  }
  const feeds = view.containers?.some((/** @type {any} */ row) => row.mounted && row.use !== "recovery");
  if ((view.step ?? null) !== null || feeds || Object.keys(view.steps ?? {}).length === 0) return null;
  const next = nextStep(view);
  if (next === null) return calm("No step in progress", "Begin one, or close the job.");
  return calm(t("Next: {step}", { step: title(next) }), "Begin it, or skip it with a reason.");
}

/**
 * Nothing presses: say what comes next.
 * @param {any} view
 * @param {boolean} massStale
 * @param {number} elapsedS seconds since the view was made
 * @returns {Call}
 */
function quiet(view, massStale, elapsedS) {
  if (view.closed_at !== null) return calm("Job closed", "The last mass of this job is shown. Open a new job below.");
  if (view.mounted === null) return calm("No container on the scale", "Mount one, then open its valve.");
  if (massStale) return calm("The scale is silent", "The mass shown is old. Look at the scale and its connection.");
  if (view.call_in_s === null) return still(view);
  const callIn = Math.max(view.call_in_s - elapsedS, 0);
  const soon = callIn <= 15;
  return {
    severity: soon ? "soon" : "calm",
    word: t(soon ? "Hand on the valve: {when}" : "Close in {when}", { when: callIn < 1 ? t("now") : about(callIn) }),
    detail: t("At the present flow. Aim {mass}.", { mass: mass(view.aim_kg) }),
    point: null,
  };
}

/**
 * No countdown runs.
 * @param {any} view
 */
function still(view) {
  const aim = t("Aim {mass}.", { mass: mass(view.aim_kg) });
  if (view.flow_kg_s === null) return calm("Flow not known yet", aim);
  if (view.flow_kg_s < WORTH_ASKING_KG_S) return calm("Nothing flows", aim);
  return calm("It flows, but no valve is said to be open", "Say which valve is open, or look where the refrigerant goes.");
}

/**
 * What to speak after a change: stop points that became active, by urgency. Acknowledging is not spoken.
 * @param {StopPoint[]} before
 * @param {StopPoint[]} after
 * @returns {{assertive: string[], polite: string[], raised: StopPoint[]}}
 */
export function announcements(before, after) {
  const spoke = new Set(before.filter(isActive).map((point) => `${key(point)} ${point.at}`));
  const raised = after.filter((point) => isActive(point) && !spoke.has(`${key(point)} ${point.at}`));
  const say = (/** @type {StopPoint} */ point) => `${t(words(point.id))}. ${saidText(point.text)}`;
  return {
    assertive: raised.filter((point) => point.severity === "critical").map(say),
    polite: raised.filter((point) => point.severity !== "critical").map(say),
    raised,
  };
}
