/**
 * A way back from a slip. The log only grows, so an undo is a second action that sets things right and a note that says
 * why it is there. `wayBack` is pure.
 */
import { byId, put } from "./dom.js";
import { t } from "./i18n.js";
import { title } from "./steps.js";

const SHOWN_MS = 12_000;

/** @typedef {{said: string, back: Record<string, unknown>, note: string}} WayBack */

const MACHINES = Object.freeze({ engine: "Engine", pump: "Vacuum pump" });
const VALVES = Object.freeze({ low: "Low side", high: "High side", container: "Container", vacuum: "To the pump" });

/**
 * What undoes an action; null where nothing does (an acknowledgement, a note, a closed job).
 * @param {any} action
 * @param {any} before the job before it
 * @returns {WayBack | null}
 */
export function wayBack(action, before) {
  const { type } = action;
  if (type === "valve") {
    if (before.valves[action.valve] === action.open) return null;
    return made(`${t(VALVES[/** @type {keyof typeof VALVES} */ (action.valve)])}: ${t(action.open ? "Open" : "Shut")}`, { type, valve: action.valve, open: !action.open });
  }
  if (type in MACHINES) {
    if (before[`${type}_running`] === action.running) return null;
    return made(`${t(MACHINES[/** @type {keyof typeof MACHINES} */ (type)])}: ${t(action.running ? "Runs" : "Stands")}`, { type, running: !action.running });
  }
  if (type === "container.mount") return made(t("{container} is on the scale", { container: action.container }), { type: "container.unmount" });
  if (type === "container.unmount" && before.mounted !== null) return remount(before);
  if (type === "step.end" && before.step !== null) {
    return made(t("{step} ended", { step: title(before.step) }), { type: "step.begin", step: before.step, reason: "ended by mistake" });
  }
  return null;
}

/** @param {any} before */
function remount(before) {
  const row = before.containers.find((/** @type {any} */ one) => one.id === before.mounted);
  if (row === undefined) return null;
  const kind = row.use === "recovery" ? { use: "recovery" } : { draw: row.draw };
  return made(t("{container} is off the scale", { container: row.id }), { type: "container.mount", container: row.id, ...kind });
}

/**
 * @param {string} said
 * @param {Record<string, unknown>} back
 * @returns {WayBack}
 */
function made(said, back) {
  return { said, back, note: t("correction: “{what}” was a slip", { what: said }) };
}

export class Undo {
  /** @param {(action: Record<string, unknown>, button: HTMLButtonElement) => Promise<boolean>} send an action without an undo of its own */
  constructor(send) {
    /** @type {WayBack | null} */
    this.way = null;
    this.timer = 0;
    const button = byId("undo-button");
    button.addEventListener("click", async () => {
      const way = this.way;
      if (way === null || !(await send(way.back, button))) return;
      this.hide();
      await send({ type: "note", text: way.note }, button);
    });
  }

  /** @param {WayBack | null} way */
  offer(way) {
    this.way = way;
    clearTimeout(this.timer);
    byId("undo").hidden = way === null;
    if (way === null) return;
    put(byId("undo-text"), t("Written down: {what}", { what: way.said }));
    this.timer = setTimeout(() => this.hide(), SHOWN_MS);
  }

  hide() {
    this.offer(null);
  }
}
