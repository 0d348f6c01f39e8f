/**
 * JSON, or null where it is none.
 * @param {string} text
 * @returns {any}
 */
export function parsed(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
