/** Problem details (RFC 9457) as sentences beside the fields they are about. */
import { t } from "./i18n.js";

/** @typedef {{field: string, text: string}} FieldError */

/** Names that two parts of a form share get the part's own beginning. */
const OWN = Object.freeze({ line: "line_", vacuum_gauge: "vacuum_" });

/**
 * The last name of a field's path without unit: "/circuit/charge_min_kg" and "circuit.charge_min" are "charge_min".
 * @param {unknown} path
 */
export function fieldName(path) {
  const parts = Array.isArray(path) ? path.map(String) : String(path ?? "").split(/[./]/);
  const names = parts.filter((part) => part && !/^\d+$/.test(part));
  const name = (/** @type {Record<string, string>} */ (OWN)[names.at(-2) ?? ""] ?? "") + (names.at(-1) ?? "");
  return name.replace(/_(kg|m|m3|s|pa|k)$/, "").replace(/^.*\[|\]$/g, "");
}

/**
 * @param {any} problem
 * @returns {FieldError[]} at least one; `field` is "" for what concerns the whole
 */
export function fieldErrors(problem) {
  if (problem === null || typeof problem !== "object") return [{ field: "", text: t("The service refused it.") }];
  const rows = Array.isArray(problem.errors) && problem.errors.length > 0 ? problem.errors : [problem];
  return rows.map((/** @type {any} */ row) => {
    const field = fieldName(row.field ?? row.pointer ?? row.loc ?? problem.field);
    const said = row.detail ?? row.message ?? row.msg ?? problem.detail ?? problem.title ?? t("The service refused it.");
    const accepted = row.accepted ?? row.expected;
    const more = typeof accepted === "string" && !said.includes(accepted) ? `: ${accepted}.` : "";
    return { field, text: String(said) + more };
  });
}
