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
    scale: { resolution: withUnit(fields.resolution, unit) },
  };
  if (fields.length.trim() || fields.bore.trim()) {
    body.hose = {
      length: withUnit(fields.length, "m"),
      bore: withUnit(fields.bore, "mm"),
      shutoff: fields.shutoff === "on",
    };
  }
  if (fields.gauge === "on") body.gauge = true;
  return body;
}

/**
 * @param {Fields} fields
 * @returns {Record<string, unknown>} the action
 */
export function mountBody(fields) {
  /** @type {Record<string, unknown>} */
  const body = { type: "container.mount", container: fields.container.trim(), draw: fields.draw };
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
