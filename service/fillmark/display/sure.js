/** What cannot be taken back takes two presses: the first one says so on the button itself. */
import { byId, make, put } from "./dom.js";

/** A second press within this time counts: a glove presses once by mistake, not twice. */
const SURE_MS = 5000;

/** @type {WeakMap<HTMLElement, {warning: string, calm: () => void}>} */
const asked = new WeakMap();

/**
 * Whether this press is the second one. The first puts the warning on the button, for a while.
 * @param {HTMLElement} button
 * @param {string} warning another warning is another question
 */
export function sure(button, warning) {
  const before = asked.get(button);
  before?.calm();
  if (before?.warning === warning) return true;
  const label = button.textContent ?? "";
  const timer = setTimeout(() => asked.get(button)?.calm(), SURE_MS);
  asked.set(button, {
    warning,
    calm() {
      clearTimeout(timer);
      asked.delete(button);
      button.dataset.asks = "false";
      put(button, label);
    },
  });
  button.dataset.asks = "true";
  put(button, warning);
  byId("say-politely").replaceChildren(make("p", {}, warning));
  return false;
}

/**
 * Name a button, unless it is asking.
 * @param {HTMLElement} button
 * @param {string} label
 */
export function relabel(button, label) {
  if (!asked.has(button)) put(button, label);
}
