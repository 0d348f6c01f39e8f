/** Opening a job in less than a minute: what stays the same is remembered, the plan is shown while one types. */
import { jobBody, withUnit } from "./bodies.js";
import { byId, make, put } from "./dom.js";
import { t } from "./i18n.js";
import { parsed } from "./json.js";
import { saidText } from "./service_text.js";

const KEPT = "fillmark-bench";
const CANS = "fillmark-cans";
/** Fields that belong to the bench and not to the car. */
const BENCH = ["unit", "aim", "length", "bore", "resolution", "can_net", "can_draw", "class", "capacity", "vacuum_resolution", "vacuum_kind", "technician"];
const TICKS = ["shutoff", "sheltered", "gauge"];
const TYPING_MS = 400;
const MOST = 20;

/** @typedef {{container: string, net: string, draw: string}} Can */

/**
 * The containers that the form names: C1, C2, … of the same net mass.
 * @param {Record<string, string>} fields
 * @returns {Can[]}
 */
export function cansOf(fields) {
  const count = Math.min(Number.parseInt(fields.cans ?? "", 10) || 0, MOST);
  const net = withUnit(fields.can_net ?? "", fields.unit || "g");
  if (!net) return [];
  return Array.from({ length: Math.max(count, 0) }, (_, index) => ({ container: `C${index + 1}`, net, draw: fields.can_draw || "vapour" }));
}

/** Fill in what the last job on this device had. */
export function recall() {
  const { elements } = byId("open-form");
  const kept = parsed(localStorage.getItem(KEPT) ?? "") ?? {};
  for (const name of BENCH) {
    if (typeof kept[name] !== "string") continue;
    elements[name].value = kept[name];
    if (elements[name].tagName === "INPUT") elements[name].defaultValue = kept[name];
  }
  for (const name of TICKS) elements[name].checked = elements[name].defaultChecked = kept[name] === "on";
}

/** @param {Record<string, string>} fields */
export function remember(fields) {
  localStorage.setItem(KEPT, JSON.stringify(Object.fromEntries([...BENCH, ...TICKS].map((name) => [name, fields[name] ?? ""]))));
  sessionStorage.setItem(CANS, JSON.stringify(cansOf(fields)));
}

/**
 * Show the plan while the form is filled in.
 * @param {(path: string, body: unknown) => Promise<any>} post
 */
export function wirePlan(post) {
  const form = byId("open-form");
  let timer = 0;
  let asked = 0;
  const look = async () => {
    const fields = /** @type {Record<string, string>} */ (Object.fromEntries(new FormData(form)));
    const cans = cansOf(fields);
    const mine = (asked += 1);
    if (cans.length === 0 || !fields.refrigerant || !fields.charge_min || !fields.charge_max) return put(byId("open-plan"), "");
    const containers = cans.map(({ container, net, draw }) => ({ container, net, draw }));
    try {
      const made = await post("v1/plan", { job: jobBody({ ...fields, bay: fields.bay || "bay-1" }), containers });
      if (mine === asked) put(byId("open-plan"), t("Plan: {text}", { text: saidText(made.text) }));
    } catch {
      if (mine === asked) put(byId("open-plan"), "");
    }
  };
  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(() => void look(), TYPING_MS);
  });
}

/**
 * One button for each planned container that was not on the scale yet.
 * @param {any} view
 * @param {(action: Record<string, unknown>, button: HTMLButtonElement) => void} send
 */
export function showPlanned(view, send) {
  const seen = new Set(view.containers.map((/** @type {any} */ row) => row.id));
  const planned = /** @type {Can[]} */ (parsed(sessionStorage.getItem(CANS) ?? "") ?? []).filter(({ container }) => !seen.has(container));
  const box = byId("planned-cans");
  const shown = JSON.stringify(planned);
  if (box.dataset.shown === shown) return;
  box.dataset.shown = shown;
  box.replaceChildren(...planned.slice(0, 2).map((can) => {
    const button = /** @type {HTMLButtonElement} */ (make("button", { type: "button", class: "strong" }, t("{container}, {net}, stands on the scale", { container: can.container, net: can.net })));
    button.addEventListener("click", () => send({ type: "container.mount", ...can }, button));
    return button;
  }));
}
