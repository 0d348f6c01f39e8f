/**
 * The server's clock as this device can know it.
 *
 * A stamp of the server is older than the moment of its receipt, never younger. So every stamp less the local
 * monotonic time is a lower bound of the offset, and the largest of the last while is the best estimate. The device's
 * own clock of the day is not used: a tablet on a shelf is often wrong by minutes.
 */

const WINDOW_MS = 120_000;

export class ServerClock {
  /** @param {() => number} monotonicMs milliseconds that never go back, as performance.now */
  constructor(monotonicMs) {
    this.monotonicMs = monotonicMs;
    /** @type {{atMs: number, offsetS: number}[]} */
    this.samples = [];
  }

  /**
   * Take a stamp of the server at its receipt.
   * @param {unknown} serverS Unix seconds
   */
  take(serverS) {
    if (typeof serverS !== "number" || !Number.isFinite(serverS)) return;
    const atMs = this.monotonicMs();
    const offsetS = serverS - atMs / 1000;
    // Only samples that may still become the largest are kept; the list stays short.
    this.samples = this.samples.filter((old) => old.offsetS > offsetS && atMs - old.atMs < WINDOW_MS);
    this.samples.push({ atMs, offsetS });
  }

  /** Forget everything: the device slept, so its monotonic time may have stood still. */
  reset() {
    this.samples = [];
  }

  /**
   * Server time now, Unix seconds; null before the first stamp.
   * @returns {number | null}
   */
  nowS() {
    if (this.samples.length === 0) return null;
    return this.monotonicMs() / 1000 + this.samples[0].offsetS;
  }

  /**
   * Seconds since a moment of the server; null where either is unknown.
   * @param {unknown} thenS Unix seconds
   * @returns {number | null}
   */
  ageS(thenS) {
    const now = this.nowS();
    if (now === null || typeof thenS !== "number" || !Number.isFinite(thenS)) return null;
    return Math.max(now - thenS, 0);
  }
}

/**
 * Seconds of an HTTP `Date` header; null when it is missing or unreadable.
 * @param {string | null} header
 */
export function dateHeaderS(header) {
  const parsed = header === null ? Number.NaN : Date.parse(header);
  return Number.isFinite(parsed) ? parsed / 1000 : null;
}
