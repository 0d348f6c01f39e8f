/** Sound and vibration. Browsers let a page sound only after a person touched it; until then the button says so. */
import { SEVERITIES } from "./stop_points.js";

/** Square tones cut through engine noise; frequencies in Hz, lengths in s. */
const TUNES = Object.freeze({
  critical: [[1900, 0.16], [1300, 0.16], [1900, 0.16], [1300, 0.16]],
  warning: [[1300, 0.2], [1300, 0.2]],
  notice: [[900, 0.12]],
});
const VIBRATIONS = Object.freeze({ critical: [400, 120, 400], warning: [200, 100, 200], notice: [80] });

/** @typedef {keyof typeof TUNES} Severity */

export class Alarm {
  constructor() {
    /** @type {AudioContext | null} */
    this.context = null;
    this.wanted = true;
    this.nextS = 0;
  }

  /** Whether it will be heard. */
  get sounding() {
    return this.wanted && this.context !== null && this.context.state === "running";
  }

  /** To be called from a touch or a key. */
  async unlock() {
    if (!this.wanted || typeof AudioContext === "undefined") return;
    this.context ??= new AudioContext();
    if (this.context.state !== "running") await this.context.resume();
  }

  /** @param {Severity} severity */
  once(severity) {
    const touched = navigator.userActivation?.hasBeenActive ?? true;
    if (touched && typeof navigator.vibrate === "function") navigator.vibrate(VIBRATIONS[severity]);
    if (this.context === null || !this.sounding) return;
    let at = this.context.currentTime;
    for (const [frequency, length] of TUNES[severity]) {
      const tone = this.context.createOscillator();
      const loudness = this.context.createGain();
      tone.type = "square";
      tone.frequency.value = frequency;
      loudness.gain.setValueAtTime(0.5, at);
      loudness.gain.setTargetAtTime(0, at + length - 0.02, 0.005);
      tone.connect(loudness).connect(this.context.destination);
      tone.start(at);
      tone.stop(at + length + 0.03);
      at += length + 0.05;
    }
  }

  /**
   * Repeat what waits for an answer.
   * @param {Severity | null} severity the most urgent that is active and not acknowledged
   * @param {number} nowS monotonic
   */
  repeat(severity, nowS) {
    const pause = severity === null ? null : SEVERITIES[severity].seldomS;
    if (severity === null || pause === null || nowS < this.nextS) return;
    this.nextS = nowS + pause + 0.8;
    this.once(severity);
  }
}
