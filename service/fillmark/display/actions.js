/** What the technician says he has done: valves, engine, and the rarer things. No button here moves anything. */
import { RefusedError } from "./api.js";
import { massBody } from "./bodies.js";
import { byId, make, put } from "./dom.js";
import { endingOf } from "./ending.js";
import { t } from "./i18n.js";
import { weighs } from "./steps.js";
import { firstActive } from "./stop_points.js";
import { sure } from "./sure.js";
import { wayBack } from "./undo.js";

const VALVE = Object.freeze({ on: "I opened it", off: "I shut it", state: { on: "open", off: "shut" } });
const MACHINE = Object.freeze({ on: "It runs", off: "It is off", state: { on: "running", off: "off" } });
const STEPS_OF_THE_PUMP = ["evacuation", "vacuum_hold"];
/** `steps`: shown in these only, and as long as it is open or runs. @type {readonly any[]} */
const SWITCHES = Object.freeze([
  { name: "low", label: "Low side", ...VALVE },
  { name: "high", label: "High side", ...VALVE },
  { name: "container", label: "Container", ...VALVE, steps: ["recovery", "charging", null] },
  { name: "vacuum", label: "To the pump", ...VALVE, steps: STEPS_OF_THE_PUMP },
  { name: "pump", label: "Vacuum pump", ...MACHINE, steps: STEPS_OF_THE_PUMP },
  { name: "engine", label: "Engine", ...MACHINE, steps: ["recovery", "pressure_test", "charging", "performance_test", null] },
]);
/** Machines, which run or are off, beside valves, which are open or shut. */
const MACHINES = new Set(["engine", "pump"]);
/** Nothing takes these back, and the button says so before. @type {Readonly<Record<string, {word: string}>>} */
const FINAL = Object.freeze({
  "container.unmount": { word: "Press again, no undo: it is off, and the hose counts as emptied" },
  "job.close": { word: "Press again to close the job: no undo" },
  "hose.recovered": { word: "Press again, no undo: the hose is empty" },
  "purge": { word: "Press again, no undo: this mass is not in the circuit" },
  "mass_step": { word: "Press again: no undo" },
});

/** @typedef {{post: (action: Record<string, unknown>) => Promise<any>, view: () => any, wantsToken: () => void,
 *   offer: (way: import("./undo.js").WayBack | null) => void}} Context */

export class Actions {
  /** @param {Context} context */
  constructor(context) {
    this.context = context;
    byId("switches").append(...SWITCHES.map((row) => this.switchRow(row)));
    this.onClick("call-end", () => endingOf(firstActive(context.view()), context.view())?.action);
    this.onClick("unmount-button", () => ({ type: "container.unmount" }));
    this.onClick("close-button", () => ({ type: "job.close" }));
    this.onSubmit("hose-form", (form) => massBody("hose.recovered", form.elements.mass.value));
    this.onSubmit("purge-form", (form) => massBody("purge", form.elements.mass.value));
    this.onSubmit("correct-form", (form) => ({ ...massBody("correct", form.elements.mass.value.replace("\u2212", "-")), reason: form.elements.reason.value }));
    this.onSubmit("note-form", (form) => ({ type: "note", text: form.elements.text.value }));
  }

  /**
   * Two statements a row; the pressed one is what was said last. Neither is pressed while nothing was said.
   * @param {any} row
   */
  switchRow({ name, label, on, off }) {
    const button = (/** @type {boolean} */ value) => {
      const made = /** @type {HTMLButtonElement} */ (
        make("button", { type: "button", class: "said", id: `${name}-${value ? "on" : "off"}`, "aria-pressed": "false" }, t(value ? on : off))
      );
      made.addEventListener("click", () => {
        const action = MACHINES.has(name) ? { type: name, running: value } : { type: "valve", valve: name, open: value };
        void this.send(action, made);
      });
      return made;
    };
    return make(
      "div",
      { class: "switch", role: "group", "aria-label": t(label), "data-side": name, id: `${name}-row` },
      make("p", { class: "label" }, t(label), make("span", { class: "state", id: `${name}-state` })),
      button(true),
      button(false),
    );
  }

  /** @param {any} view */
  show(view) {
    for (const { name, state, steps } of SWITCHES) {
      const on = MACHINES.has(name) ? view[`${name}_running`] : view.valves[name];
      byId(`${name}-on`).setAttribute("aria-pressed", String(on === true));
      byId(`${name}-off`).setAttribute("aria-pressed", String(on === false));
      put(byId(`${name}-state`), t(typeof on === "boolean" ? (on ? state.on : state.off) : "unknown"));
      byId(`${name}-row`).hidden = on !== true && steps !== undefined && !steps.includes(view.step);
    }
    const closed = view.closed_at !== null;
    for (const id of ["controls", "more-section"]) byId(id).hidden = closed;
    byId("unmount-row").hidden = view.mounted === null;
    put(byId("unmount-name"), view.mounted ?? "");
    byId("mount-section").hidden = closed || view.mounted !== null || !weighs(view);
  }

  /**
   * @param {string} id
   * @param {() => Record<string, unknown> | undefined} action
   */
  onClick(id, action) {
    byId(id).addEventListener("click", () => {
      const made = action();
      if (made !== undefined) void this.send(made, byId(id));
    });
  }

  /**
   * @param {string} id
   * @param {(form: any) => Record<string, unknown>} action
   */
  onSubmit(id, action) {
    const form = byId(id);
    form.addEventListener("submit", async (/** @type {Event} */ event) => {
      event.preventDefault();
      if (await this.send(action(form), form.querySelector("button"))) form.reset();
    });
  }

  /**
   * Send an action and say what came of it; what nothing takes back goes with the second press.
   * @param {Record<string, unknown>} action
   * @param {HTMLButtonElement} button
   * @param {string} [resultId] where to say it
   * @param {boolean} [undoable] false for a way back itself: it is not asked about and offers none
   * @returns {Promise<boolean>} whether it was taken
   */
  async send(action, button, resultId = "action-result", undoable = true) {
    if (button.getAttribute("aria-busy") === "true") return false;
    const final = FINAL[String(action.type)];
    if (undoable && final !== undefined && !sure(button, t(final.word))) return false;
    const result = byId(resultId);
    const before = this.context.view();
    button.setAttribute("aria-busy", "true");
    result.dataset.failed = "false";
    put(result, t("Sending …"));
    try {
      await this.context.post(action);
      put(result, t("Written down."));
      if (undoable) this.context.offer(wayBack(action, before));
      return true;
    } catch (error) {
      result.dataset.failed = "true";
      const refused = error instanceof RefusedError;
      if (refused && error.status === 401) this.context.wantsToken();
      const why = /** @type {Error} */ (error).message;
      put(result, t(refused ? "Refused: {why}" : "Not sent, press again: {why}", { why: t(why) }));
      return false;
    } finally {
      button.removeAttribute("aria-busy");
    }
  }
}
