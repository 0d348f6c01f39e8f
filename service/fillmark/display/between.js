/** Between two steps: what the last one showed, large. */
import { byId, put } from "./dom.js";
import * as format from "./format.js";
import { t } from "./i18n.js";
import { list, showVerdict } from "./panels.js";
import { said } from "./service_text.js";
import { between, title } from "./steps.js";

const LINES = 4;

/** @param {any} view */
export function showBetween(view) {
  const step = between(view);
  byId("between").hidden = step === null;
  if (step === null) return;
  const report = view.steps[step].report;
  put(byId("between-title"), t("{step}: done", { step: title(step) }));
  showVerdict("between-verdict", report?.verdict ? format.verdict(report.verdict) : { lead: t("No verdict"), choices: [] });
  list("between-measured", (report?.measured ?? []).slice(0, LINES).map(said));
}
