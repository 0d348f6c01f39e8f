/** The dialog of language, theme and units. A theme shows at once; the others make the page anew. */
import { byId } from "./dom.js";
import { language, keep, settings, theme } from "./settings.js";

const GROUNDS = Object.freeze({ light: "#f3f1ea", dark: "#0d1518", sun: "#ffffff" });

/** Put language and theme on the document. */
export function dress() {
  const shown = theme(matchMedia("(prefers-color-scheme: dark)").matches);
  document.documentElement.dataset.theme = shown;
  document.documentElement.lang = language();
  const colour = GROUNDS[/** @type {keyof typeof GROUNDS} */ (shown)];
  document.querySelector("meta[name=theme-color]")?.setAttribute("content", colour);
}

export function wireSettings() {
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", dress);
  const dialog = byId("settings");
  const form = byId("settings-form");
  let anew = false;
  for (const [name, value] of Object.entries(settings)) {
    form.elements[name].value = value;
    form.elements[name].addEventListener("change", (/** @type {any} */ event) => {
      keep(name, event.target.value);
      dress();
      anew ||= name !== "theme";
    });
  }
  byId("settings-button").addEventListener("click", () => dialog.showModal());
  dialog.addEventListener("close", () => anew && location.reload());
}
