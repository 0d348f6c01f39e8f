/** Keep the page on this device and the screen on. Browsers allow both only on https or on this machine itself. */

/** Let the worker keep the page. */
export function keepPage() {
  if ("serviceWorker" in navigator) navigator.serviceWorker.register("worker.js").catch(() => null);
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
