/** Small helpers around the document. Data goes in as text only, never as markup. */

/**
 * @param {string} id
 * @returns {any} the element; a missing one is an error of this page, so it is told at once
 */
export function byId(id) {
  const found = document.getElementById(id);
  if (found === null) throw new Error(`the page has no element #${id}`);
  return found;
}

/**
 * Set text only when it changes: assistive technology and layout are left in peace.
 * @param {Element} element
 * @param {string} text
 */
export function put(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/**
 * @param {string} tag
 * @param {Record<string, string>} attributes
 * @param {...(string | Node)} children
 */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

const SVG = "http://www.w3.org/2000/svg";

/**
 * @param {string} tag
 * @param {Record<string, string | number>} attributes
 * @param {string} [text]
 */
export function draw(tag, attributes, text) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  if (text !== undefined) element.textContent = text;
  return element;
}

/** Outlines of 24 × 24: each means one thing, whatever its colour. @type {Readonly<Record<string, string>>} */
export const SHAPES = Object.freeze({
  octagon: "M7.5 1h9L23 7.5v9L16.5 23h-9L1 16.5v-9ZM10.5 5v9h3V5Zm0 11v3h3v-3Z",
  triangle: "M12 1.5 23.5 22H.5ZM10.7 9v6.5h2.6V9Zm0 8v2.5h2.6V17Z",
  circle: "M12 1a11 11 0 1 0 0 22 11 11 0 0 0 0-22ZM10.6 10.5v8h2.8v-8Zm0-5v3h2.8v-3Z",
  dot: "M12 3a9 9 0 1 0 0 18 9 9 0 0 0 0-18Z",
  bolt: "M1 4h22v6H1Zm0 10h22v6H1Z",
  hourglass: "M4 1h16v5l-6 6 6 6v5H4v-5l6-6-6-6Z",
  tick: "M9 20.5.8 12.3l3.4-3.4L9 13.7 19.8 3l3.4 3.4Z",
  play: "M4 1 22 12 4 23Z",
  skip: "M1 3 11.5 12 1 21ZM12.5 3 23 12 12.5 21Z",
  ring: "M12 1a11 11 0 1 0 0 22 11 11 0 0 0 0-22Zm0 5a6 6 0 1 1 0 12 6 6 0 0 1 0-12Z",
});

/** @param {string} shape */
export function mark(shape) {
  const svg = draw("svg", { viewBox: "0 0 24 24", class: "mark", "aria-hidden": "true" });
  svg.append(draw("path", { d: SHAPES[shape] ?? SHAPES.ring }));
  return svg;
}

/**
 * Redraw a list only when what it shows has changed, so that a button under a finger stays the same button.
 * @param {Element} element
 * @param {string} fingerprint
 * @param {() => Node[]} build
 */
export function rebuild(element, fingerprint, build) {
  const host = /** @type {any} */ (element);
  if (host.shownFingerprint === fingerprint) return;
  host.shownFingerprint = fingerprint;
  element.replaceChildren(...build());
}
