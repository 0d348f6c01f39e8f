/** The forms that open a job and mount a container, with the service's objections beside the field they are about. */
import { RefusedError } from "./api.js";
import { byId, make } from "./dom.js";
import { t } from "./i18n.js";
import { fieldErrors } from "./problem.js";

/**
 * Show errors in a form; what belongs to no field of it goes below the form.
 * @param {HTMLFormElement} form
 * @param {import("./problem.js").FieldError[]} errors
 */
export function showErrors(form, errors) {
  clearErrors(form);
  errors.forEach(({ field, text }, index) => {
    const input = field ? form.querySelector(`[name="${CSS.escape(field === "aim" && aimIsMass(form) ? "aim_mass" : field)}"]`) : null;
    const id = `${form.id}-error-${index}`;
    const note = make("p", { class: "error", id, role: "alert" }, text);
    if (input === null) {
      form.append(note);
      return;
    }
    input.setAttribute("aria-invalid", "true");
    input.setAttribute("aria-describedby", id);
    (input.closest("label") ?? form).append(note);
    const folded = input.closest("details");
    if (folded !== null) folded.open = true;
  });
  const first = /** @type {HTMLElement | null} */ (form.querySelector("[aria-invalid]"));
  first?.focus();
}

/** @param {HTMLFormElement} form */
function aimIsMass(form) {
  return /** @type {any} */ (form.elements).aim?.value === "mass";
}

/** @param {HTMLFormElement} form */
function clearErrors(form) {
  for (const note of form.querySelectorAll(".error")) note.remove();
  for (const input of form.querySelectorAll("[aria-invalid]")) {
    input.removeAttribute("aria-invalid");
    input.removeAttribute("aria-describedby");
  }
}

/**
 * Fields that were left empty although they are needed.
 * @param {HTMLFormElement} form
 */
function missing(form) {
  const inputs = /** @type {NodeListOf<HTMLInputElement>} */ (form.querySelectorAll("input[required]"));
  return [...inputs].filter((input) => !input.value.trim()).map(({ name }) => ({ field: name, text: t("Fill this in.") }));
}

/**
 * Send a form as JSON.
 * @param {string} id
 * @param {(fields: Record<string, string>) => Promise<unknown>} send
 * @param {() => void} wantsToken
 */
export function onForm(id, send, wantsToken) {
  const form = /** @type {HTMLFormElement} */ (byId(id));
  const button = /** @type {HTMLButtonElement} */ (form.querySelector("button[type=submit]"));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (button.getAttribute("aria-busy") === "true") return;
    const empty = missing(form);
    if (empty.length > 0) {
      showErrors(form, empty);
      return;
    }
    clearErrors(form);
    button.setAttribute("aria-busy", "true");
    try {
      await send(/** @type {Record<string, string>} */ (Object.fromEntries(new FormData(form))));
      form.reset();
    } catch (error) {
      const refused = error instanceof RefusedError;
      if (refused && error.status === 401) wantsToken();
      const said = /** @type {Error} */ (error).message;
      showErrors(form, refused ? fieldErrors(error.problem) : [{ field: "", text: t(said) }]);
    } finally {
      button.removeAttribute("aria-busy");
    }
  });
}
