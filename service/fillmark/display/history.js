/**
 * What this page has seen of one gauge during one step, for drawing. It is bounded: when it is full, every second
 * point goes, and from then on points are taken half as often, so the whole course stays. Pure.
 */

const MOST = 600;

/** @typedef {{t: number, v: number}} Point t: Unix seconds of the service, v: SI */

export class History {
  constructor() {
    this.name = "";
    /** @type {Point[]} */
    this.points = [];
    this.spacingS = 0;
    /** The newest reading, also where it came too soon after the last kept one. @type {Point | null} */
    this.newest = null;
  }

  /**
   * Begin anew when the name is another.
   * @param {string} name of job, step and its beginning
   * @returns {boolean} whether it was another
   */
  about(name) {
    if (name === this.name) return false;
    this.name = name;
    this.points = [];
    this.spacingS = 0;
    this.newest = null;
    return true;
  }

  /**
   * @param {number} t
   * @param {number} v
   */
  take(t, v) {
    if (!Number.isFinite(t) || !Number.isFinite(v)) return;
    if (this.newest !== null && t <= this.newest.t) return;
    this.newest = { t, v };
    const last = this.points.at(-1);
    if (last !== undefined && t - last.t < this.spacingS) return;
    this.points.push(this.newest);
    if (this.points.length > MOST) this.halve();
  }

  /** Everything to draw, the newest reading last. */
  all() {
    const last = this.points.at(-1);
    return this.newest !== null && last !== this.newest ? [...this.points, this.newest] : this.points;
  }

  /**
   * Put what was read before in front of what was seen here.
   * @param {[number, number][]} earlier
   */
  prepend(earlier) {
    const first = this.points[0]?.t ?? Number.POSITIVE_INFINITY;
    const seen = this.points;
    this.points = earlier.filter(([t]) => t < first).map(([t, v]) => ({ t, v }));
    this.points.push(...seen);
    this.newest ??= this.points.at(-1) ?? null;
    while (this.points.length > MOST) this.halve();
  }

  /** Let every second point go. */
  halve() {
    const spanS = (this.points.at(-1)?.t ?? 0) - this.points[0].t;
    this.points = this.points.filter((_, index) => index % 2 === 0);
    this.spacingS = (2 * spanS) / MOST;
  }
}
