/** What a step showed: its verdict and four short lists; the hints; the balance of the oil. */
import { byId, put } from "./dom.js";
import * as format from "./format.js";
import { t } from "./i18n.js";
import { list, showVerdict } from "./panels.js";
import { said, saidText } from "./service_text.js";
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
  put(byId("report-title"), t("Report: {step}, {state}", { step: title(step), state: t(STATES[stateOf(view, step)].word) }));
  const none = { lead: t(record.skipped ? "Skipped" : "No verdict"), choices: [] };
  showVerdict("report-verdict", !record.skipped && report?.verdict ? format.verdict(report.verdict) : none);
  put(byId("report-reason"), record.reason ? t("Reason given: {reason}", { reason: record.reason }) : "");
  byId("report-lists").hidden = report === null;
  for (const [id, member] of Object.entries(LISTS)) {
    const lines = /** @type {string[]} */ (report?.[member] ?? []);
    list(id, lines.length > 0 ? lines.map(said) : [t(record.ended === null ? "Nothing yet." : "Nothing.")]);
  }
}

/**
 * Where the record of the job lies, in each of its forms.
 * @param {any} view
 */
export function showRecord(view) {
  const closed = view.closed_at !== null;
  byId("record-hint").hidden = closed;
  byId("particulars").hidden = closed;
  byId("label-link").hidden = !view.steps.charging;
  for (const link of byId("record-links").children) {
    const path = `v1/jobs/${encodeURIComponent(view.job)}/${link.dataset.form}`;
    if (link.getAttribute("href") !== path) link.setAttribute("href", path);
  }
}

/** @param {any} view */
export function showHints(view) {
  byId("hints-section").hidden = view.hints.length === 0;
  list("hints", view.hints.map(said));
}

/** @param {any} view */
export function showOil(view) {
  const { oil } = view;
  byId("oil-form").hidden = view.closed_at !== null;
  if (oil === null) return list("oil", [t("Nothing was moved or replaced.")]);
  const rest = oil.to_add_m3 === null
    ? t("Still to add: unknown, a part's amount is not given")
    : oil.to_add_m3 < 0 ? t("Too much by {volume}", { volume: millilitres(-oil.to_add_m3) }) : t("Still to add: {volume}", { volume: millilitres(oil.to_add_m3) });
  list("oil", [
    rest,
    t("Taken out {out}, put in {in}", { out: millilitres(oil.removed_m3), in: millilitres(oil.added_m3) }),
    ...oil.replaced.map((/** @type {any} */ part) =>
      t("{part} replaced: {oil}", { part: part.component, oil: part.oil_m3 === null ? t("its oil is not given") : t("wants {volume}", { volume: millilitres(part.oil_m3) }) })),
  ]);
}
