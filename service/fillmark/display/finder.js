/** Looks for the job to show while none is open, and knows whether the service answers. */
import { choose, listed } from "./jobs.js";

const PAUSE_MS = 3000;

export class Finder {
  /**
   * @param {import("./api.js").Api} api
   * @param {string | null} bay
   * @param {() => number} nowMs
   */
  constructor(api, bay, nowMs) {
    this.api = api;
    this.bay = bay;
    this.nowMs = nowMs;
    /** @type {boolean | null} whether the last question was answered; null: not asked yet */
    this.answered = null;
    this.answeredMs = nowMs();
    this.dueMs = 0;
  }

  /** @param {(job: string) => void} found */
  async look(found) {
    this.dueMs = this.nowMs() + PAUSE_MS;
    try {
      const job = choose(listed(await this.api.get("v1/jobs?open=true")), this.bay);
      this.answered = true;
      this.answeredMs = this.nowMs();
      if (job !== null) found(job.job);
    } catch {
      this.answered = false;
    }
  }

  /** @param {(job: string) => void} found */
  tick(found) {
    if (this.nowMs() >= this.dueMs) void this.look(found);
  }

  /** The same answer as a link gives. */
  state() {
    const silentS = (this.nowMs() - this.answeredMs) / 1000;
    if (this.answered === null) return { state: /** @type {const} */ ("waiting"), silentS };
    return { state: /** @type {"live" | "lost"} */ (this.answered ? "live" : "lost"), silentS };
  }
}
