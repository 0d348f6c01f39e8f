/** What a step showed: its verdict and four short lists; the hints; the balance of the oil. */
import { byId, put } from "./dom.js";
import * as format from "./format.js";
import { list } from "./panels.js";
import { STATES, reportedStep, stateOf, title } from "./steps.js";
import { millilitres } from "./units.js";

const LISTS = Object.freeze({
  "report-measured": "measured", "report-proves": "proves", "report-does-not-prove": "does_not_prove", "report-next": "next",
});

/**
 * @param {any} view
 * @param {string | null} chosen step that a finger chose
 */
export function showReport(view, chosen) {
  const step = reportedStep(view, chosen);
  const record = step === null ? null : view.steps[step];
  const report = record?.report ?? null;
  byId("report-section").hidden = record === null;
  if (step === null || record === null) return;
  put(byId("report-title"), `Report: ${title(step)}, ${STATES[stateOf(view, step)].word}`);
  put(byId("report-verdict"), record.skipped ? "Skipped" : report?.verdict ? format.words(report.verdict) : "No verdict");
  put(byId("report-reason"), record.reason ? `Reason given: ${record.reason}` : "");
  byId("report-lists").hidden = report === null;
  for (const [id, member] of Object.entries(LISTS)) {
    const lines = /** @type {string[]} */ (report?.[member] ?? []);
    list(id, lines.length > 0 ? lines.map(format.sentence) : [record.ended === null ? "Nothing yet." : "Nothing."]);
  }
}

/** @param {any} view */
export function showHints(view) {
  byId("hints-section").hidden = view.hints.length === 0;
  list("hints", view.hints.map(format.sentence));
}

/** @param {any} view */
export function showOil(view) {
  const { oil } = view;
  byId("oil-form").hidden = view.closed_at !== null;
  if (oil === null) return list("oil", ["Nothing was moved or replaced."]);
  const rest = oil.to_add_m3 === null
    ? "Still to add: unknown, a part's amount is not given"
    : oil.to_add_m3 < 0 ? `Too much by ${millilitres(-oil.to_add_m3)}` : `Still to add: ${millilitres(oil.to_add_m3)}`;
  list("oil", [
    rest,
    `Taken out ${millilitres(oil.removed_m3)}, put in ${millilitres(oil.added_m3)}`,
    ...oil.replaced.map((/** @type {any} */ part) =>
      `${part.component} replaced: ${part.oil_m3 === null ? "its oil is not given" : `wants ${millilitres(part.oil_m3)}`}`),
  ]);
}
