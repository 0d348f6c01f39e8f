/** What this device likes: language, theme, units. Kept on the device only. */
import { parsed } from "./json.js";

const KEPT = "fillmark-settings";

/** The first of each row is the default. @type {Readonly<Record<string, readonly string[]>>} */
export const CHOICES = Object.freeze({
  language: ["auto", "en", "de"],
  theme: ["auto", "light", "dark", "sun"],
  mass: ["g", "kg", "oz", "lb"],
  pressure: ["bar", "kPa", "psi"],
  vacuum: ["Pa", "micron", "inHg", "kPa"],
  temperature: ["°C", "°F"],
});

/**
 * Sound choices out of what was kept; everything else is the default.
 * @param {string | null} text
 * @returns {Record<string, string>}
 */
export function read(text) {
  const kept = parsed(text ?? "") ?? {};
  return Object.fromEntries(
    Object.entries(CHOICES).map(([name, values]) => [name, values.includes(kept[name]) ? kept[name] : values[0]]),
  );
}

/** @type {Record<string, string>} */
export const settings = read(stored());

/**
 * @param {string} name
 * @param {string} value
 */
export function keep(name, value) {
  settings[name] = value;
  try {
    localStorage.setItem(KEPT, JSON.stringify(settings));
  } catch {
    // a browser that keeps nothing still shows it now
  }
}

function stored() {
  try {
    return globalThis.localStorage?.getItem(KEPT) ?? null;
  } catch {
    return null;
  }
}

/** The language to speak: the chosen one, or the browser's where there is a catalogue for it. */
export function language() {
  if (settings.language !== "auto") return settings.language;
  const wanted = String(globalThis.navigator?.language ?? "en").slice(0, 2).toLowerCase();
  return CHOICES.language.includes(wanted) ? wanted : "en";
}

/**
 * The theme to draw: the chosen one, or the system's.
 * @param {boolean} systemIsDark
 */
export function theme(systemIsDark) {
  if (settings.theme !== "auto") return settings.theme;
  return systemIsDark ? "dark" : "light";
}
