/**
 * A way back from a slip. The log only grows, so an undo is a second action that sets things right and a note that says
 * why it is there. `wayBack` is pure.
 */
import { byId, put } from "./dom.js";
import { t } from "./i18n.js";
import { title } from "./steps.js";

const SHOWN_MS = 12_000;

/** @typedef {{said: string, undo: string, back: Record<string, unknown>, note: string}} WayBack `undo`: what is stated by taking it back */

const MACHINES = Object.freeze({ engine: "Engine", pump: "Vacuum pump" });
const VALVES = Object.freeze({ low: "Low side", high: "High side", container: "Container", vacuum: "To the pump" });

/**
 * What undoes an action; null where nothing does. What counts for something and cannot be undone asks twice instead
 * (`FINAL` in `actions`): a container that is said to be off, for one, empties its hose in the account.
 * @param {any} action
 * @param {any} before the job before it
 * @returns {WayBack | null}
 */
export function wayBack(action, before) {
  const { type } = action;
  if (type === "valve") {
    if (before.valves[action.valve] === action.open) return null;
    const name = t(VALVES[/** @type {keyof typeof VALVES} */ (action.valve)]);
    return made(`${name}: ${t(action.open ? "open" : "shut")}`, t(action.open ? "Undo: it is shut" : "Undo: it is open"), { ...action, open: !action.open });
  }
  if (type in MACHINES) {
    if (before[`${type}_running`] === action.running) return null;
    const name = t(MACHINES[/** @type {keyof typeof MACHINES} */ (type)]);
    return made(`${name}: ${t(action.running ? "running" : "off")}`, t(action.running ? "Undo: it is off" : "Undo: it runs"), { ...action, running: !action.running });
  }
  if (type === "container.mount") return made(t("{container} is on the scale", { container: action.container }), t("Undo: it is not there"), { type: "container.unmount" });
  if (type === "step.end" && before.step !== null) {
    const back = { type: "step.begin", step: before.step, reason: "ended by mistake" };
    return made(t("{step} ended", { step: title(before.step) }), t("Undo: it goes on"), back);
  }
  if (type === "correct") {
    const back = action.mass.startsWith("-") ? action.mass.slice(1) : `-${action.mass}`;
    const said = t("Charged mass corrected by {mass}", { mass: action.mass });
    return made(said, t("Undo: take it back"), { type, mass: back, reason: t("correction: “{what}” was a slip", { what: said }) });
  }
  return null;
}

/**
 * @param {string} said
 * @param {string} undo
 * @param {Record<string, unknown>} back
 * @returns {WayBack}
 */
function made(said, undo, back) {
  return { said, undo, back, note: t("correction: “{what}” was a slip", { what: said }) };
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
    put(byId("undo-button"), way.undo);
    this.timer = setTimeout(() => this.hide(), SHOWN_MS);
  }

  hide() {
    this.offer(null);
  }
}
