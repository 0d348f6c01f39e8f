/** Keep the page on this device and the screen on. Browsers allow both only on https or on this machine itself. */

/** Files that the first visit did not ask for through the worker are asked for once. */
export function keepPage() {
  if (!("serviceWorker" in navigator)) return;
  navigator.serviceWorker.register("worker.js").then(async () => {
    await navigator.serviceWorker.ready;
    const seen = performance.getEntriesByType("resource").map(({ name }) => name).filter((name) => !name.includes("/v1/"));
    await Promise.all([location.href, ...seen].map((name) => fetch(name).catch(() => null)));
  }, () => null);
}

/** A tablet that goes dark in the middle of a charge helps nobody. */
export class Awake {
  constructor() {
    /** @type {any} */
    this.lock = null;
    this.asking = false;
  }

  /** @param {boolean} wanted */
  async want(wanted) {
    const { wakeLock } = /** @type {any} */ (navigator);
    if (wakeLock === undefined || this.asking) return;
    if (!wanted) {
      await this.lock?.release();
      this.lock = null;
      return;
    }
    if ((this.lock !== null && !this.lock.released) || document.visibilityState !== "visible") return;
    this.asking = true;
    this.lock = await wakeLock.request("screen").catch(() => null);
    this.asking = false;
  }
}
