/** How the gauges of a job read, from the action that opened it: the first entry of the job's log. */
import { parsed } from "./json.js";

/**
 * The opening action of a page of the log; null where it is not in it.
 * @param {any} page of GET /v1/jobs/{job}/log
 * @returns {any}
 */
export function openingAction(page) {
  for (const entry of page?.entries ?? []) {
    for (const record of entry.records) {
      if (typeof record.vs !== "string") continue;
      const action = parsed(record.vs);
      if (action?.type === "job.open") return action;
    }
  }
  return null;
}

/**
 * Whether a pressure channel reads against the atmosphere; null: not known, so nothing may be made of it.
 * @param {any} opening the opening action, null: unknown
 * @param {string} channel
 * @returns {boolean | null}
 */
export function readsGauge(opening, channel) {
  if (opening === null) return null;
  if (channel === "vacuum/pressure" && opening.vacuum_gauge) return opening.vacuum_gauge.kind === "compound";
  const { gauge } = opening;
  return gauge === true || (Array.isArray(gauge) && gauge.includes(channel));
}
