/**
 * Words in the reader's language. The English sentence is the key, so the source reads as what is shown and English
 * needs no catalogue. What has no translation is shown in English and marked as English for those who hear it.
 */
import { language } from "./settings.js";

/** @type {Record<string, string>} */
const catalogue = language() === "de" ? (await import("./de.js")).default : {};

/**
 * @param {string} text English
 * @param {Record<string, unknown>} [values] for its {names}
 */
export function t(text, values) {
  const said = catalogue[text] ?? text;
  return values === undefined ? said : said.replace(/\{(\w+)\}/g, (whole, name) => String(values[name] ?? whole));
}

/** @typedef {{pattern: RegExp, said: string}} Template */

/**
 * Templates of a catalogue for sentences with numbers in them: "{0}" stands for any text.
 * @param {Record<string, string>} words
 * @returns {Template[]}
 */
export function templates(words) {
  return Object.entries(words)
    .filter(([text]) => text.includes("{0}"))
    .map(([text, said]) => {
      const parts = text.split(/\{\d\}/).map((part) => part.replace(/[.*+?^${}()|[\]\\]/g, "\\$&"));
      return { pattern: new RegExp(`^${parts.join("(.+?)")}$`, "s"), said };
    });
}

const sentences = templates(catalogue);

/**
 * A sentence of the service, translated where the catalogue knows it.
 * @param {string} text
 * @param {Record<string, string>} [words]
 * @param {Template[]} [known]
 * @returns {{text: string, own: boolean}} own: in the reader's language
 */
export function fromService(text, words = catalogue, known = sentences) {
  if (words === catalogue && language() === "en") return { text, own: true };
  const whole = words[text];
  if (whole !== undefined) return { text: whole, own: true };
  for (const { pattern, said } of known) {
    const found = pattern.exec(text);
    if (found) return { text: said.replace(/\{(\d)\}/g, (_, place) => inner(found[Number(place) + 1], words)), own: true };
  }
  return { text, own: false };
}

/**
 * A word inside a sentence, where the catalogue has it.
 * @param {string} part
 * @param {Record<string, string>} words
 */
function inner(part, words) {
  return words[part] ?? part;
}

/** Attributes that are read aloud or shown. */
const SPOKEN = ["aria-label", "placeholder", "title"];

/**
 * Translate what stands in the page.
 * @param {Element} root
 */
export function translate(root) {
  if (language() === "en") return;
  const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = /** @type {Text} */ (walker.currentNode);
    const text = node.data.replace(/\s+/g, " ").trim();
    if (catalogue[text] !== undefined) node.data = node.data.replace(/\S[\s\S]*\S|\S/, catalogue[text]);
  }
  for (const name of SPOKEN) {
    for (const element of root.querySelectorAll(`[${name}]`)) {
      element.setAttribute(name, t(element.getAttribute(name) ?? ""));
    }
  }
}
