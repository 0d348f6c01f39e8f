/**
 * One job, live. The stream brings every state; when it is quiet the job is asked for, which tells a quiet bay from a
 * dead connection. What EventSource gives up is opened anew.
 */
import { Link, backoffMs } from "./link.js";

/**
 * @typedef {object} Hooks
 * @property {(job: string) => Promise<any>} fetchJob GET of the job; rejects when there is no answer
 * @property {(job: string) => EventSource} open
 * @property {() => number} nowMs
 * @property {(view: any) => void} onState
 * @property {(transition: any) => void} onStopPoint
 */

/** EventSource.CLOSED, written out so that this file runs where there is none. */
const CLOSED = 2;
const ASK_PAUSE_MS = 1000;

export class JobStream {
  /** @param {Hooks} hooks */
  constructor(hooks) {
    this.hooks = hooks;
    this.link = new Link();
    /** @type {string | null} */
    this.job = null;
    /** @type {EventSource | null} */
    this.source = null;
    this.position = -1;
    this.behind = 0;
    this.attempt = 0;
    this.asking = false;
    this.askedMs = Number.NEGATIVE_INFINITY;
    this.retryAtMs = Number.POSITIVE_INFINITY;
  }

  /**
   * Follow a job; leaves the one before.
   * @param {string} job
   */
  follow(job) {
    this.leave();
    this.job = job;
    this.link = new Link();
    this.position = -1;
    this.connect();
    void this.ask();
  }

  /** Stop following. */
  leave() {
    this.source?.close();
    this.source = null;
    this.job = null;
    this.retryAtMs = Number.POSITIVE_INFINITY;
  }

  /** Open the stream, in place of an old one. */
  connect() {
    if (this.job === null) return;
    this.source?.close();
    this.retryAtMs = Number.POSITIVE_INFINITY;
    this.behind = 0;
    this.link.broke();
    this.link.begin(this.hooks.nowMs());
    const source = this.hooks.open(this.job);
    this.source = source;
    source.addEventListener("open", () => {
      if (this.source !== source) return;
      this.attempt = 0;
      this.link.opened(this.hooks.nowMs());
    });
    source.addEventListener("error", () => {
      if (this.source === source) this.broken(source);
    });
    source.addEventListener("state", (event) => {
      if (this.source === source) this.received(event, (view) => this.state(view, true));
    });
    source.addEventListener("stop_point", (event) => {
      if (this.source === source) this.received(event, this.hooks.onStopPoint);
    });
  }

  /** @param {EventSource} source */
  broken(source) {
    this.link.broke();
    if (source.readyState !== CLOSED) return; // EventSource tries again by itself
    this.retryAtMs = this.hooks.nowMs() + backoffMs(this.attempt, Math.random());
    this.attempt += 1;
  }

  /**
   * @param {MessageEvent} event
   * @param {(data: any) => void} use
   */
  received(event, use) {
    this.link.heard(this.hooks.nowMs());
    /** @type {any} */
    let data;
    try {
      data = JSON.parse(event.data);
    } catch {
      return; // half a message is no state; the next one is whole
    }
    use(data);
  }

  /**
   * @param {any} view
   * @param {boolean} streamed whether the stream brought it
   */
  state(view, streamed) {
    if (view.job !== this.job || view.position < this.position) return;
    const news = view.position > this.position;
    this.behind = streamed || !news ? 0 : this.behind + 1;
    this.position = view.position;
    this.hooks.onState(view);
  }

  /** Ask for the job itself. */
  async ask() {
    const job = this.job;
    if (job === null || this.asking) return;
    this.asking = true;
    this.askedMs = this.hooks.nowMs();
    try {
      const view = await this.hooks.fetchJob(job);
      if (this.job !== job) return;
      this.link.heard(this.hooks.nowMs());
      this.state(view, false);
    } catch {
      if (this.job === job) this.link.failed();
    } finally {
      this.asking = false;
    }
    // Twice in a row the answer knew more than the stream had brought: nobody feeds the stream any more.
    if (this.behind >= 2 && this.job === job) this.connect();
  }

  /** To be called a few times a second. */
  tick() {
    if (this.job === null) return;
    const now = this.hooks.nowMs();
    if (now >= this.retryAtMs) this.connect();
    if (now - this.askedMs < ASK_PAUSE_MS) return;
    if (this.link.quiet(now) || this.link.probeFailed) void this.ask();
  }

  /** The device woke up or the network is back: look at once. */
  wake() {
    if (this.source?.readyState === CLOSED) this.connect();
    void this.ask();
  }
}
