/** Bodies of requests from what a person typed. Nothing is guessed: what does not fit goes to the service as it is. */

/** @typedef {Record<string, string>} Fields */

/**
 * A number with the unit of its field, unless the person wrote a unit. "1.8" and "m" give "1.8 m".
 * @param {string} text
 * @param {string} unit
 */
export function withUnit(text, unit) {
  const trimmed = text.trim();
  return /^[+-]?[\d.,]+$/.test(trimmed) ? `${trimmed} ${unit}` : trimmed;
}

/**
 * @param {Fields} fields
 * @returns {Record<string, unknown>} body of POST /v1/jobs
 */
export function jobBody(fields) {
  const unit = fields.unit || "g";
  const aim = fields.aim === "mass" ? withUnit(fields.aim_mass ?? "", unit) : fields.aim;
  /** @type {Record<string, unknown>} */
  const body = {
    bay: fields.bay.trim(),
    circuit: {
      refrigerant: fields.refrigerant.trim(),
      charge_min: withUnit(fields.charge_min, unit),
      charge_max: withUnit(fields.charge_max, unit),
    },
    aim,
    scale: {
      resolution: withUnit(fields.resolution, unit),
      sheltered: fields.sheltered === "on",
      ...(fields.class ? { class: fields.class } : {}),
      ...given({ capacity: [fields.capacity, "kg"] }),
    },
  };
  if (fields.length.trim() || fields.bore.trim()) {
    body.hose = {
      length: withUnit(fields.length, "m"),
      bore: withUnit(fields.bore, "mm"),
      shutoff: fields.shutoff === "on",
    };
  }
  if (fields.gauge === "on") body.gauge = true;
  if (fields.technician?.trim()) body.technician = fields.technician.trim();
  if (fields.vacuum_resolution?.trim()) {
    body.vacuum_gauge = { resolution: withUnit(fields.vacuum_resolution, "Pa"), kind: fields.vacuum_kind };
  }
  Object.assign(/** @type {object} */ (body.circuit), moreOfCircuit(fields));
  return body;
}

/**
 * What a circuit may say beside its label: its volume, and the line set of a stationary one.
 * @param {Fields} fields
 */
function moreOfCircuit(fields) {
  /** @type {Record<string, unknown>} */
  const more = {};
  if (fields.volume?.trim()) more.volume = withUnit(fields.volume, "L");
  if (fields.kind !== "stationary") return more;
  more.kind = "stationary";
  const line = given({
    length: [fields.line_length, "m"], included: [fields.line_included, "m"], rate: [fields.line_rate, "g/m"],
  });
  return Object.keys(line).length > 0 ? { ...more, line } : more;
}

/**
 * Only what was filled in; nothing is sent as nought.
 * @param {Record<string, [string | undefined, string]>} rows
 */
function given(rows) {
  const filled = Object.entries(rows).filter(([, [text]]) => text?.trim());
  return Object.fromEntries(filled.map(([name, [text, unit]]) => [name, withUnit(text ?? "", unit)]));
}

/**
 * @param {Fields} fields
 * @returns {Record<string, unknown>} the action
 */
export function mountBody(fields) {
  /** @type {Record<string, unknown>} */
  const body = { type: "container.mount", container: fields.container.trim() };
  if (fields.use === "recovery") {
    const rows = given({ tare: [fields.tare, fields.unit || "g"], water_capacity: [fields.water_capacity, "L"] });
    return { ...body, use: "recovery", ...rows };
  }
  body.draw = fields.draw;
  if (fields.net.trim()) body.net = withUnit(fields.net, fields.unit || "g");
  return body;
}

/**
 * An action with an optional mass: purge, hose recovered.
 * @param {string} type
 * @param {string} massText
 */
export function massBody(type, massText) {
  return massText.trim() ? { type, mass: withUnit(massText, "g") } : { type };
}

/**
 * Who did it and to what; only what was filled in.
 * @param {Fields} fields
 * @returns {Record<string, unknown>} the action
 */
export function particularsBody(fields) {
  const filled = Object.entries(fields).map(([name, text]) => [name, text.trim()]).filter(([, text]) => text);
  return { type: "particulars", ...Object.fromEntries(filled) };
}

/**
 * Oil that was moved, or a part that was replaced.
 * @param {Fields} fields
 * @returns {Record<string, unknown>} the action
 */
export function oilBody(fields) {
  const part = fields.component.trim();
  const amount = withUnit(fields.amount, "mL");
  if (fields.what === "replaced") {
    return { type: "component.replaced", component: part, ...(amount ? { oil: amount } : {}) };
  }
  return { type: "oil", [fields.what]: amount, ...(part && fields.what === "added" ? { component: part } : {}) };
}
