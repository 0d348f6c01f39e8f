/** Names of refrigerants for the form. */
import { byId, make } from "./dom.js";

/** @param {import("./api.js").Api} api */
export async function loadNames(api) {
  try {
    const { refrigerants } = await api.get("v1/refrigerants");
    byId("refrigerants").append(
      ...refrigerants.map((/** @type {{name: string}} */ row) => make("option", { value: row.name })),
    );
  } catch {
    // the field takes any spelling without the list
  }
}
