/** Which job this page shows. Pure. */

/** @typedef {{job: string, bay: string, closed_at?: number | null, open?: boolean}} Listed */

/**
 * @param {any} answer of GET /v1/jobs
 * @returns {Listed[]}
 */
export function listed(answer) {
  return Array.isArray(answer?.jobs) ? answer.jobs : [];
}

/** @param {Listed} job */
export function isOpen(job) {
  return job.open ?? (job.closed_at === null || job.closed_at === undefined);
}

/**
 * The open job of the wanted bay; without a wanted bay the first open one of all.
 * @param {Listed[]} jobs newest first
 * @param {string | null} bay
 * @returns {Listed | null}
 */
export function choose(jobs, bay) {
  return jobs.find((job) => isOpen(job) && (bay === null || job.bay === bay)) ?? null;
}
