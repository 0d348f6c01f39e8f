/** Below the window while charging: both service ports with their saturation temperature, and what the container still gives. */
import { byId, put } from "./dom.js";
import * as format from "./format.js";
import { t } from "./i18n.js";

const PORTS = Object.freeze([
  { id: "beside-low", channel: "low/pressure", key: "low_dew_k", said: "dew {value}" },
  { id: "beside-high", channel: "high/pressure", key: "high_bubble_k", said: "bubble {value}" },
]);

/** @param {any} view */
export function showBeside(view) {
  for (const { id, channel, key, said } of PORTS) {
    const [, value, more] = byId(id).children;
    put(value, format.pressure(view.readings[channel]?.value));
    put(more, t(said, { value: format.kelvinAsCelsius(view.saturation[key]) }));
  }
  const [name, value, more] = byId("beside-can").children;
  const row = view.containers.find((/** @type {any} */ one) => one.mounted);
  put(name, row === undefined ? t("Container") : row.id);
  const heard = row !== undefined && view.mass_at !== null;
  put(value, heard && format.known(row.left_kg) ? t("{mass} left", { mass: format.mass(row.left_kg) }) : format.UNKNOWN);
  put(more, heard ? t("{mass} drawn", { mass: format.mass(row.drawn_kg) }) : t("none on the scale"));
}
