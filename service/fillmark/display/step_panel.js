/** The strip of the six steps with what became of each, and the buttons that begin, end and skip them. */
import { withUnit } from "./bodies.js";
import { SHAPES, byId, make, mark, put } from "./dom.js";
import { t } from "./i18n.js";
import { STATES, STEPS, WAITING, missedBefore, nextStep, stateOf, title } from "./steps.js";
import { relabel, sure } from "./sure.js";

/** @type {Record<string, {label: string, unit: string}>} */
const TARGETS = { evacuation: { label: "Target, absolute, Pa", unit: "Pa" }, recovery: { label: "Hold below, absolute, bar", unit: "bar" } };
const RESULT = "step-result";

/** @typedef {(action: Record<string, unknown>, button: HTMLButtonElement, result: string) => Promise<boolean>} Send */

export class StepPanel {
  /**
   * @param {Send} send
   * @param {() => void} chosen called when another step was chosen
   */
  constructor(send, chosen) {
    this.send = send;
    /** @type {any} */
    this.view = null;
    /** @type {string | null} the step that a finger chose; null: the one that suggests itself */
    this.chosen = null;
    this.skipping = false;
    this.about = "";
    this.cells = STEPS.map((step) => this.cell(step, chosen));
    byId("step-strip").append(...this.cells.map(({ button }) => make("li", {}, button)));
    const form = byId("step-form");
    form.addEventListener("submit", (/** @type {Event} */ event) => {
      event.preventDefault();
      void this.begin(byId("step-begin"));
    });
    byId("step-skip").addEventListener("click", () => void this.skip());
    byId("step-end").addEventListener("click", () => this.end());
  }

  /**
   * @param {string} step
   * @param {() => void} chosen
   */
  cell(step, chosen) {
    const shape = mark("ring");
    const state = make("span", { class: "state" });
    const button = /** @type {HTMLButtonElement} */ (
      make("button", { type: "button", class: "step" }, make("span", { class: "name" }, title(step)), shape, state)
    );
    button.addEventListener("click", () => {
      this.choose(step);
      this.show(this.view);
      chosen();
    });
    return { step, button, path: /** @type {Element} */ (shape.firstElementChild), state };
  }

  /** The step that Begin and Skip are about. */
  get target() {
    return this.chosen ?? nextStep(this.view);
  }

  /** @param {string | null} step */
  choose(step) {
    this.chosen = step;
    this.skipping = false;
    byId("step-form").reset(); // a reason is about one step
  }

  /** @param {any} view */
  show(view) {
    this.view = view;
    const about = `${view.job} ${view.step} ${Object.values(view.steps).map((one) => one.began).join(" ")}`;
    if (about !== this.about) {
      this.about = about;
      this.choose(null);
    }
    const next = nextStep(view);
    for (const { step, button, path, state } of this.cells) {
      const found = stateOf(view, step);
      const suggested = step === next;
      path.setAttribute("d", SHAPES[STATES[found].shape]);
      put(state, suggested ? (found === "open" ? t("next") : t("{state}, do again", { state: t(STATES[found].word) })) : t(STATES[found].word));
      button.dataset.state = found;
      button.dataset.next = String(suggested);
      button.setAttribute("aria-pressed", String((this.chosen ?? view.step ?? next) === step));
      if (found === "now") button.setAttribute("aria-current", "step");
      else button.removeAttribute("aria-current");
    }
    this.showForm();
  }

  showForm() {
    const { view, target } = this;
    const closed = view.closed_at !== null;
    const idle = view.step === null && !closed;
    byId("step-form").hidden = closed;
    byId("step-end").hidden = view.step === null;
    byId("step-begin").hidden = !idle || target === null;
    byId("step-skip").hidden = !idle || target === null || stateOf(view, target) !== "open";
    if (view.step !== null) relabel(byId("step-end"), t("End: {step}", { step: title(view.step) }));
    const missed = idle && target !== null ? missedBefore(view, target) : [];
    const asks = idle && target !== null && (missed.length > 0 || this.skipping);
    byId("step-reason-label").hidden = !asks;
    put(byId("step-reason-word"), this.skipping ? t("Why it is skipped: {step}", { step: named(target) }) : t("Why without: {steps}", { steps: missed.map(named).join(", ") }));
    const asked = TARGETS[target ?? ""];
    byId("step-target-label").hidden = !idle || asked === undefined || this.skipping;
    put(byId("step-target-word"), asked ? t(asked.label) : "");
    relabel(byId("step-begin"), t("Begin: {step}", { step: named(target) }));
    put(byId("step-skip"), t("Skip: {step}", { step: named(target) }));
  }

  /** Whether Begin needs no word more. */
  get ready() {
    return this.view !== null && this.view.step === null && this.view.closed_at === null && this.target !== null && byId("step-reason-label").hidden;
  }

  /** @param {HTMLButtonElement} button that was pressed: here, or beside the call */
  async begin(button) {
    const { target } = this;
    if (target === null || byId("step-begin").hidden) return;
    const unusual = target !== nextStep(this.view);
    if (unusual && !sure(button, t("Press again, no undo. Begin: {step}", { step: title(target) }))) return;
    const { reason, aim } = byId("step-form").elements;
    /** @type {Record<string, unknown>} */
    const action = { type: "step.begin", step: target };
    if (reason.value.trim()) action.reason = reason.value.trim();
    const unit = TARGETS[target]?.unit;
    if (unit && aim.value.trim()) action.target_abs = withUnit(aim.value, unit);
    await this.send(action, button, RESULT);
  }

  async skip() {
    const { target } = this;
    if (target === null) return;
    const { reason } = byId("step-form").elements;
    if (!this.skipping || !reason.value.trim()) {
      this.skipping = true;
      this.showForm();
      byId(RESULT).dataset.failed = "false";
      put(byId(RESULT), t("Say why, then press Skip again."));
      reason.focus();
      return;
    }
    await this.send({ type: "step.skip", step: target, reason: reason.value.trim() }, byId("step-skip"), RESULT);
  }

  end() {
    const button = byId("step-end");
    if (WAITING.has(this.view.step) && !sure(button, t("Press again to end: {step}", { step: title(this.view.step) }))) return;
    void this.send({ type: "step.end" }, button, RESULT);
  }
}

/** @param {string | null} step */
function named(step) {
  return step === null ? "" : title(step);
}
