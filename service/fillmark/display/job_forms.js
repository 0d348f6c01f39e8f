/** The forms: open a job, mount a container, oil and parts, the write token. */
import { jobBody, mountBody, oilBody, particularsBody } from "./bodies.js";
import { byId } from "./dom.js";
import { onForm } from "./forms.js";
import { recall, remember, wirePlan } from "./open_form.js";
import { wayBack } from "./undo.js";

/**
 * @typedef {{api: import("./api.js").Api, bay: string, view: () => any, opened: () => Promise<void>, wantsToken: () => void,
 *   offer: (way: import("./undo.js").WayBack | null) => void}} Context
 * @param {Context} context
 */
export function wireForms({ api, bay, view, opened, wantsToken, offer }) {
  const act = (/** @type {Record<string, unknown>} */ body) => api.post(`v1/jobs/${encodeURIComponent(view().job)}/actions`, body);
  byId("open-form").elements.bay.defaultValue = bay;
  recall();
  wirePlan((path, body) => api.post(path, body));
  shownWhen("open-form", "aim", (value) => ({ "aim-mass-label": value === "mass" }));
  shownWhen("open-form", "kind", (value) => ({ "line-fields": value === "stationary" }));
  shownWhen("mount-form", "use", (value) => ({
    "net-label": value === "charge", "draw-label": value === "charge",
    "tare-label": value === "recovery", "water-label": value === "recovery",
  }));
  shownWhen("oil-form", "what", (value) => ({ "component-label": value !== "removed" }));
  onForm("open-form", async (fields) => {
    await api.post("v1/jobs", jobBody(fields));
    remember(fields);
    await opened();
  }, wantsToken);
  onForm("mount-form", async (fields) => {
    const action = mountBody(fields);
    const before = view();
    await act(action);
    offer(wayBack(action, before));
  }, wantsToken);
  onForm("particulars-form", (fields) => act(particularsBody(fields)), wantsToken);
  onForm("oil-form", (fields) => act(oilBody(fields)), wantsToken);
  onForm("token-form", async (fields) => {
    api.setToken(fields.token);
    byId("token-form").hidden = true;
  }, wantsToken);
}

/**
 * Show some fields only for certain values of another, also after the form was emptied.
 * @param {string} id of the form
 * @param {string} name of the field that decides
 * @param {(value: string) => Record<string, boolean>} rule
 */
function shownWhen(id, name, rule) {
  const form = byId(id);
  const apply = () => {
    for (const [label, shown] of Object.entries(rule(form.elements[name].value))) byId(label).hidden = !shown;
  };
  form.elements[name].addEventListener("change", apply);
  form.addEventListener("reset", () => setTimeout(apply));
  apply();
}
