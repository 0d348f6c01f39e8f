/**
 * The six steps of a job as a display shows them: what became of each, which one comes next, and when the service will
 * ask for a reason. Pure. The two tables are those of the service, which decides; a test holds them together.
 */
import { words } from "./format.js";
import { t } from "./i18n.js";

export const STEPS = Object.freeze([
  "recovery", "pressure_test", "evacuation", "vacuum_hold", "charging", "performance_test",
]);

/** @type {Readonly<Record<string, readonly string[]>>} each step with those after which it may begin */
export const MAY_FOLLOW = Object.freeze({
  recovery: STEPS,
  pressure_test: ["recovery", "pressure_test", "evacuation", "vacuum_hold"],
  evacuation: ["recovery", "pressure_test", "evacuation", "vacuum_hold"],
  vacuum_hold: ["evacuation", "vacuum_hold"],
  charging: ["recovery", "evacuation", "vacuum_hold", "charging", "performance_test"],
  performance_test: ["charging", "performance_test"],
});

/** @type {Readonly<Record<string, readonly string[]>>} steps that usually come before */
export const USUAL_BEFORE = Object.freeze({
  recovery: [],
  pressure_test: [],
  evacuation: ["pressure_test"],
  vacuum_hold: ["evacuation"],
  charging: ["evacuation", "vacuum_hold"],
  performance_test: ["charging"],
});

/** After these verdicts the next step is not the next of the list. Common practice, no source. */
const BACK = Object.freeze({
  recovery: { "not empty yet": "recovery" },
  pressure_test: { leaking: "pressure_test", undecided: "pressure_test", "over the limit": "pressure_test" },
  evacuation: { "still falling": "evacuation", wet: "evacuation" },
  vacuum_hold: {
    leaking: "pressure_test", leaking_and_wet: "pressure_test", wet_or_outgassing: "evacuation", wet_leak_not_excluded: "evacuation", undecided: "vacuum_hold",
  },
});

/** Steps in which waiting is the proof: ending one by mistake loses it, so it takes two presses. */
export const WAITING = new Set(["pressure_test", "vacuum_hold", "performance_test"]);

/** @typedef {"done" | "now" | "skipped" | "open"} State */

/** Word and shape of each state, beside its colour. */
export const STATES = Object.freeze({
  done: { word: "done", shape: "tick" },
  now: { word: "in progress", shape: "play" },
  skipped: { word: "skipped", shape: "skip" },
  open: { word: "not done", shape: "ring" },
});

/**
 * "vacuum_hold" as "Vacuum hold", in the reader's language.
 * @param {string} step
 */
export function title(step) {
  return t(words(step));
}

/**
 * @param {any} view the job
 * @param {string} step
 * @returns {State}
 */
export function stateOf(view, step) {
  if (view.step === step) return "now";
  const record = view.steps?.[step];
  if (!record) return "open";
  return record.skipped ? "skipped" : "done";
}

/**
 * The step that was done last, the one in progress included.
 * @param {any} view
 * @returns {string | null}
 */
export function lastDone(view) {
  const done = STEPS.filter((step) => view.steps?.[step] && !view.steps[step].skipped);
  if (done.length === 0) return null;
  return done.reduce((last, step) => (view.steps[step].began >= view.steps[last].began ? step : last));
}

/**
 * Steps that are usual before this one and are neither done nor skipped.
 * @param {any} view
 * @param {string} step
 * @returns {string[]}
 */
export function missedBefore(view, step) {
  if (Object.keys(view.steps ?? {}).length === 0) return [];
  return USUAL_BEFORE[step].filter((before) => !view.steps[before]);
}

/**
 * The step to highlight; null where none suggests itself.
 * @param {any} view
 * @returns {string | null}
 */
export function nextStep(view) {
  if (view.step !== null || view.closed_at !== null) return null;
  const last = lastDone(view);
  if (last === null) {
    const charging = view.containers.some((/** @type {any} */ row) => row.mounted && row.use !== "recovery");
    const first = charging ? "charging" : STEPS.find((step) => !view.steps?.[step]);
    return first ?? null;
  }
  const { report, began } = view.steps[last];
  const back = /** @type {Record<string, Record<string, string>>} */ (BACK)[last]?.[report?.verdict];
  if (back) return back;
  const skipped = (/** @type {string} */ step) => view.steps[step]?.skipped && view.steps[step].began >= began;
  const after = STEPS.slice(STEPS.indexOf(last) + 1);
  return after.find((step) => MAY_FOLLOW[step].includes(last) && !skipped(step)) ?? null;
}

/**
 * Whether a container has a place on the scale now: in the steps that weigh, and where one of them comes next.
 * @param {any} view
 */
export function weighs(view) {
  const about = view.step ?? nextStep(view) ?? "charging";
  return about === "charging" || about === "recovery";
}

/**
 * Between two steps: the one whose report stands in the big place; null where the charged mass does.
 * @param {any} view
 * @returns {string | null}
 */
export function between(view) {
  const last = lastDone(view);
  if (view.step !== null || last === null || last === "charging") return null;
  const filled = view.steps.charging !== undefined && !view.steps.charging.skipped;
  if (view.closed_at !== null) return filled ? null : last;
  const feeds = view.containers.some((/** @type {any} */ row) => row.mounted && row.use !== "recovery");
  return feeds && last !== "performance_test" ? null : last;
}

/**
 * The step whose number stands in the big place; null: the charged mass does.
 * @param {any} view
 * @returns {string | null}
 */
export function bigStep(view) {
  const step = view.step ?? null;
  return step === "charging" ? null : step;
}

/**
 * The step whose report is shown: the chosen one, or the one in progress, or the last.
 * @param {any} view
 * @param {string | null} chosen
 * @returns {string | null}
 */
export function reportedStep(view, chosen) {
  return (chosen !== null && view.steps?.[chosen] ? chosen : null) ?? view.step ?? lastDone(view);
}
