/** What the technician does: valves, engine, and the rarer things. */
import { RefusedError } from "./api.js";
import { massBody } from "./bodies.js";
import { byId, make, put } from "./dom.js";
import { t } from "./i18n.js";
import { feedingValve } from "./live_view.js";
import { weighs } from "./steps.js";
import { wayBack } from "./undo.js";

const SWITCHES = Object.freeze([
  { name: "low", label: "Low side", on: "Open", off: "Shut" },
  { name: "high", label: "High side", on: "Open", off: "Shut" },
  { name: "container", label: "Container", on: "Open", off: "Shut" },
  { name: "vacuum", label: "To the pump", on: "Open", off: "Shut" },
  { name: "pump", label: "Vacuum pump", on: "Runs", off: "Stands" },
  { name: "engine", label: "Engine", on: "Runs", off: "Stands" },
]);
/** Machines, which run or stand, beside valves, which are open or shut. */
const MACHINES = new Set(["engine", "pump"]);
/** Shown in these steps, and as long as it is open or runs. */
const PUMP_STEPS = new Set(["evacuation", "vacuum_hold"]);
/** A second press within this time closes the job: a glove presses once by mistake, not twice. */
const SURE_MS = 5000;

/** @typedef {{post: (action: Record<string, unknown>) => Promise<any>, view: () => any, wantsToken: () => void,
 *   offer: (way: import("./undo.js").WayBack | null) => void}} Context */

export class Actions {
  /** @param {Context} context */
  constructor(context) {
    this.context = context;
    this.sureUntilMs = 0;
    byId("switches").append(...SWITCHES.map((row) => this.switchRow(row)));
    this.onClick("call-shut", () => ({ type: "valve", valve: feedingValve(context.view()), open: false }));
    this.onClick("unmount-button", () => ({ type: "container.unmount" }));
    byId("close-button").addEventListener("click", () => this.closeJob());
    this.onSubmit("hose-form", (form) => massBody("hose.recovered", form.elements.mass.value));
    this.onSubmit("purge-form", (form) => massBody("purge", form.elements.mass.value));
    this.onSubmit("correct-form", (form) => ({ ...massBody("correct", form.elements.mass.value.replace("\u2212", "-")), reason: form.elements.reason.value }));
    this.onSubmit("note-form", (form) => ({ type: "note", text: form.elements.text.value }));
  }

  /**
   * Two buttons a row: the pressed one is the state, the other one is the act. Neither is pressed while it is unknown.
   * @param {{name: string, label: string, on: string, off: string}} row
   */
  switchRow({ name, label, on, off }) {
    const button = (/** @type {boolean} */ value) => {
      const made = /** @type {HTMLButtonElement} */ (
        make("button", { type: "button", id: `${name}-${value ? "on" : "off"}`, "aria-pressed": "false" }, t(value ? on : off))
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
      make("span", { class: "label" }, t(label), make("span", { class: "unknown", id: `${name}-unknown` }, t("unknown"))),
      button(true),
      button(false),
    );
  }

  /** @param {any} view */
  show(view) {
    for (const { name } of SWITCHES) {
      const state = MACHINES.has(name) ? view[`${name}_running`] : view.valves[name];
      const known = typeof state === "boolean";
      byId(`${name}-on`).setAttribute("aria-pressed", String(state === true));
      byId(`${name}-off`).setAttribute("aria-pressed", String(state === false));
      byId(`${name}-unknown`).hidden = known;
      if (name === "vacuum" || name === "pump") byId(`${name}-row`).hidden = !PUMP_STEPS.has(view.step) && state !== true;
    }
    const closed = view.closed_at !== null;
    for (const id of ["controls", "more-section"]) byId(id).hidden = closed;
    byId("unmount-section").hidden = closed || view.mounted === null;
    byId("mount-section").hidden = closed || view.mounted !== null || !weighs(view);
    if (performance.now() > this.sureUntilMs) put(byId("close-button"), t("Close the job"));
  }

  closeJob() {
    const button = byId("close-button");
    if (performance.now() < this.sureUntilMs) {
      this.sureUntilMs = 0;
      void this.send({ type: "job.close" }, button);
      return;
    }
    this.sureUntilMs = performance.now() + SURE_MS;
    put(button, t("Press again to close the job"));
  }

  /**
   * @param {string} id
   * @param {() => Record<string, unknown>} action
   */
  onClick(id, action) {
    byId(id).addEventListener("click", () => void this.send(action(), byId(id)));
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
   * Send an action and say what came of it.
   * @param {Record<string, unknown>} action
   * @param {HTMLButtonElement} button
   * @param {string} [resultId] where to say it
   * @param {boolean} [undoable] whether to offer a way back
   * @returns {Promise<boolean>} whether it was taken
   */
  async send(action, button, resultId = "action-result", undoable = true) {
    if (button.getAttribute("aria-busy") === "true") return false;
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
