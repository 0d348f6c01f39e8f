/** The picture of the running circuit: asked for every few seconds while a performance test is in progress. */
import { drawCycle } from "./cycle_plot.js";
import { byId } from "./dom.js";

const PAUSE_MS = 2500;

export class CycleView {
  /** @param {(job: string) => Promise<any>} ask */
  constructor(ask) {
    this.ask = ask;
    /** @type {string | null} */
    this.job = null;
    /** @type {any} */
    this.found = null;
    this.nextMs = 0;
  }

  /** @param {any} view */
  show(view) {
    if (view.job !== this.job) Object.assign(this, { job: view.job, found: null, nextMs: 0 });
    drawCycle(byId("cycle-plot"), byId("cycle-plot-title"), this.found);
    void this.look(view.job);
  }

  /** @param {string} job */
  async look(job) {
    const now = performance.now();
    if (now < this.nextMs) return;
    this.nextMs = now + PAUSE_MS;
    try {
      const found = await this.ask(job);
      if (this.job !== job) return;
      this.found = found;
      drawCycle(byId("cycle-plot"), byId("cycle-plot-title"), found);
    } catch {
      // asked again with one of the next states; what is drawn fades with the readings
    }
  }
}
