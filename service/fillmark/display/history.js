/**
 * What this page has seen of one gauge during one step, for drawing. It is bounded: when it is full, every second
 * point goes, and from then on points are taken half as often, so the whole course stays. Pure.
 */
import { parsed } from "./json.js";

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
   */
  about(name) {
    if (name === this.name) return;
    this.name = name;
    this.points = [];
    this.spacingS = 0;
    this.newest = null;
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
    if (this.points.length <= MOST) return;
    const spanS = t - this.points[0].t;
    this.points = this.points.filter((_, index) => index % 2 === 0);
    this.spacingS = (2 * spanS) / MOST;
  }

  /** Everything to draw, the newest reading last. */
  all() {
    const last = this.points.at(-1);
    return this.newest !== null && last !== this.newest ? [...this.points, this.newest] : this.points;
  }

  /** To be kept over a reload of the page. */
  saved() {
    return JSON.stringify({ name: this.name, points: this.all() });
  }

  /**
   * Take up what was kept; anything else is ignored.
   * @param {string | null} text
   */
  restore(text) {
    const kept = parsed(text ?? "");
    if (typeof kept?.name !== "string" || !Array.isArray(kept.points)) return;
    this.about(kept.name);
    for (const point of kept.points) this.take(point?.t, point?.v);
  }
}
