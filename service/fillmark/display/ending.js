/** The one act that ends a danger, so that its button can be the large one. Pure. */

/** @typedef {{word: string, action: Record<string, unknown>}} Ending `word`: what the technician states by pressing */

const FEEDING = ["high", "low", "container"];

/** @param {string} valve */
const shut = (valve) => ({ word: "I shut it", action: { type: "valve", valve, open: false } });

/** @type {Readonly<Record<string, (view: any, point: import("./stop_points.js").StopPoint) => Ending | null>>} by the id of the stop point */
const ENDINGS = Object.freeze({
  "close-valve-now": (view) => shut(feedingValve(view)),
  "window-exceeded": feeding,
  "wrong-refrigerant-suspected": feeding,
  "blend-as-vapour": feeding,
  "scale-overload": feeding,
  "aim-reached": feeding,
  "reading-stale": (view, { subject }) => (subject === "scale/mass" ? feeding(view) : null),
  "high-side-open-while-running": (view) => (view.valves.high === true ? shut("high") : null),
  "liquid-to-low-side": (view) => (view.valves.low === true ? shut("low") : null),
  "container-empty": (view) => (view.valves.container === true ? shut("container") : null),
  "high-pressure-limit": (view) => (view.engine_running === true ? { word: "The engine is off", action: { type: "engine", running: false } } : null),
});

/** @param {any} view */
function feeding(view) {
  return FEEDING.some((valve) => view.valves[valve] === true) ? shut(feedingValve(view)) : null;
}

/**
 * The valve that feeds the circuit, as the call names it.
 * @param {any} view
 * @returns {"high" | "low" | "container"}
 */
function feedingValve(view) {
  if (view.valves.high) return "high";
  return view.valves.low ? "low" : "container";
}

/**
 * @param {import("./stop_points.js").StopPoint | null} point the one that is called
 * @param {any} view
 * @returns {Ending | null} null: no single act of the hand is known to end it
 */
export function endingOf(point, view) {
  return point === null ? null : (ENDINGS[point.id]?.(view, point) ?? null);
}
