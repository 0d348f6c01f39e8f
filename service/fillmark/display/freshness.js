/**
 * When a value has been silent for too long, counted here as well as in the service: between two messages the
 * service cannot tell this page anything. Same rule as the engine: three times the channel's own interval, at least
 * 3 s for the scale and 10 s for the others.
 */

const INTERVALS = 3;
const LEAST_SCALE_S = 3;
const LEAST_S = 10;
const LONGEST_GAP_S = 10;
/** A flag speaks when it changes; its silence means nothing. */
const SILENT_FLAGS = new Set(["scale/stable"]);

/** @typedef {{value: number | null, unit: string | null, at: number, live: boolean}} Reading */

export class Freshness {
  constructor() {
    /** @type {Map<string, {at: number, intervalS: number | null}>} */
    this.seen = new Map();
  }

  /**
   * Learn the interval of every channel from a new state.
   * @param {Record<string, Reading>} readings
   */
  take(readings) {
    for (const [channel, { at }] of Object.entries(readings)) {
      const before = this.seen.get(channel);
      if (before === undefined || at < before.at) {
        this.seen.set(channel, { at, intervalS: null });
      } else if (at > before.at) {
        const gap = Math.min(at - before.at, LONGEST_GAP_S);
        const interval = before.intervalS === null ? gap : before.intervalS + 0.2 * (gap - before.intervalS);
        this.seen.set(channel, { at, intervalS: interval });
      }
    }
  }

  /** Another job: other channels. */
  reset() {
    this.seen.clear();
  }

  /**
   * Age from which a channel counts as silent, s.
   * @param {string} channel
   */
  limitS(channel) {
    const least = channel === "scale/mass" ? LEAST_SCALE_S : LEAST_S;
    return Math.max(least, INTERVALS * (this.seen.get(channel)?.intervalS ?? 0));
  }

  /**
   * @param {string} channel
   * @param {boolean} live what the service last said
   * @param {number | null} ageS
   */
  stale(channel, live, ageS) {
    if (SILENT_FLAGS.has(channel)) return false;
    return !live || ageS === null || ageS > this.limitS(channel);
  }
}
