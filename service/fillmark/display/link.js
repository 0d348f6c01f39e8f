/** Whether this page hears the service. Pure: every moment is handed in, in milliseconds of a clock that never goes back. */

/** Silence after which the service is asked whether it is still there, ms. */
export const QUIET_MS = 3000;
const BACKOFF_LEAST_MS = 500;
const BACKOFF_MOST_MS = 10_000;

export class Link {
  constructor() {
    /** @type {number | null} */
    this.heardMs = null;
    /** @type {number | null} */
    this.waitingSinceMs = null;
    this.open = false;
    this.probeFailed = false;
  }

  /**
   * A new connection is tried.
   * @param {number} nowMs
   */
  begin(nowMs) {
    this.waitingSinceMs ??= nowMs;
  }

  /**
   * Something came from the service.
   * @param {number} nowMs
   */
  heard(nowMs) {
    this.heardMs = nowMs;
    this.probeFailed = false;
  }

  /**
   * The stream is open.
   * @param {number} nowMs
   */
  opened(nowMs) {
    this.open = true;
    this.heard(nowMs);
  }

  /** The stream broke. */
  broke() {
    this.open = false;
  }

  /** The service did not answer when it was asked. */
  failed() {
    this.probeFailed = true;
  }

  /**
   * Whether it is time to ask.
   * @param {number} nowMs
   */
  quiet(nowMs) {
    return this.heardMs === null || nowMs - this.heardMs >= QUIET_MS;
  }

  /**
   * `waiting` before the first contact, `live`, or `lost`, and for how long nothing was heard.
   * @param {number} nowMs
   * @returns {{state: "waiting" | "live" | "lost", silentS: number}}
   */
  look(nowMs) {
    const since = this.heardMs ?? this.waitingSinceMs ?? nowMs;
    const silentS = Math.max(nowMs - since, 0) / 1000;
    if (this.open && !this.probeFailed && this.heardMs !== null && silentS < (3 * QUIET_MS) / 1000) {
      return { state: "live", silentS };
    }
    if (this.heardMs === null && silentS < QUIET_MS / 1000) return { state: "waiting", silentS };
    return { state: "lost", silentS };
  }
}

/**
 * Pause before the next attempt, ms: doubling, with jitter so that many displays do not come back at once.
 * @param {number} attempt counted from 0
 * @param {number} random 0 to 1
 */
export function backoffMs(attempt, random) {
  const top = Math.min(BACKOFF_LEAST_MS * 2 ** Math.min(attempt, 10), BACKOFF_MOST_MS);
  return top * (0.5 + 0.5 * random);
}
