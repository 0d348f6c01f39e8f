/** The lower part: pressures, temperatures, containers, certainty, cautions. */
import { byId, make, put, rebuild } from "./dom.js";
import * as format from "./format.js";
import { t } from "./i18n.js";
import { said, saidText } from "./service_text.js";
import { channelName } from "./stop_points.js";
import { vacuum } from "./units.js";

/** @typedef {import("./freshness.js").Freshness} Freshness */
/** @typedef {import("./clock.js").ServerClock} ServerClock */

const SIDES = Object.freeze([
  { side: "low", channel: "low/pressure", title: "Low side", boils: "dew point", key: "low_dew_k" },
  { side: "high", channel: "high/pressure", title: "High side", boils: "bubble point", key: "high_bubble_k" },
]);
const LONG_VERDICT = 24;
const ELSEWHERE = new Set(["low/pressure", "high/pressure", "scale/stable"]);

/**
 * A value that carries its channel, so that its age can be counted on.
 * @param {string} channel
 * @param {string} text
 */
function aged(channel, text) {
  return [make("span", { class: "value" }, text), make("span", { class: "age", "data-age-of": channel }, "")];
}

/** @param {any} view */
export function showPanels(view) {
  showPressures(view);
  showReadings(view);
  showContainers(view);
  showCautions(view);
  put(byId("chance"), view.mass_at === null ? format.UNKNOWN : format.percent(view.probability_in_window));
  put(byId("dispensed"), view.mass_at === null ? t("unknown") : withU(view.dispensed_kg, view.dispensed_u_kg));
  put(byId("hose"), view.hose_kg === null ? t("unknown") : withU(view.hose_kg, view.hose_u_kg));
  put(byId("plan"), view.plan === null ? t("unknown") : saidText(view.plan.text));
  list("call-basis", callBasis(view));
  list("assumed", view.assumed.length > 0 ? view.assumed.map(said) : [t("Nothing.")]);
  rows("budget", view.budget.map((/** @type {any} */ row) => [
    `${saidText(row.term)}${row.assumed ? t(", assumed") : ""} (${row.source})`,
    `${(row.u_kg * 1000).toFixed(2)}\u00a0g`,
  ]));
  const largest = view.budget.reduce((/** @type {any} */ a, /** @type {any} */ b) => (b.u_kg > a.u_kg ? b : a));
  put(byId("better"), saidText(largest.better));
  list("notes", view.notes.map((/** @type {any} */ note) => note.text));
}

/** @param {any} view */
function callBasis(view) {
  const lands = format.known(view.call_in_s)
    ? [t("Called now, it lands at {mass}; chance of the window {chance}.", {
      mass: withU(view.lands_if_called_kg, view.lands_if_called_u_kg), chance: format.percent(view.probability_if_called),
    })]
    : [];
  return [said(view.reaction.text), ...(view.timing.text === null ? [] : [said(view.timing.text)]), ...lands];
}

/**
 * @param {unknown} massKg
 * @param {unknown} uKg
 */
function withU(massKg, uKg) {
  return format.known(massKg) ? `${format.mass(massKg)} ${format.plusMinus(uKg)}` : format.UNKNOWN;
}

/**
 * @param {string} id
 * @param {(string | {text: string, own: boolean})[]} lines own: false where a line is not in the reader's language
 */
export function list(id, lines) {
  rebuild(byId(id), JSON.stringify(lines), () =>
    lines.map((line) => (typeof line === "string" ? make("li", {}, line) : make("li", line.own ? {} : { lang: "en" }, line.text))),
  );
}

/**
 * @param {string} id
 * @param {format.Verdict} verdict
 */
export function showVerdict(id, { lead, choices }) {
  const place = byId(id);
  place.dataset.long = String(lead.length > LONG_VERDICT);
  rebuild(place, JSON.stringify([lead, choices]), () => [
    make("p", {}, lead),
    ...(choices.length > 0 ? [make("ul", { class: "choices" }, ...choices.map((one) => make("li", {}, one)))] : []),
  ]);
}

/**
 * @param {string} id
 * @param {string[][]} pairs
 */
export function rows(id, pairs) {
  rebuild(byId(id), JSON.stringify(pairs), () =>
    pairs.map(([name, value]) => make("div", {}, make("dt", {}, name), make("dd", {}, value))),
  );
}

/** @param {any} view */
function showPressures(view) {
  const shown = SIDES.map(({ channel, key }) => [view.readings[channel]?.value ?? null, view.saturation[key] ?? null]);
  rebuild(byId("pressures"), JSON.stringify(shown), () =>
    SIDES.map(({ side, channel, title, boils }, index) =>
      make(
        "div",
        { class: "gauge", "data-side": side, "data-channel": channel },
        make("h3", {}, t(title)),
        make("p", { class: "pressure" }, ...aged(channel, format.pressure(shown[index][0]))),
        make("p", { class: "saturation" }, `${t(boils)} ${format.kelvinAsCelsius(shown[index][1])}`),
      ),
    ),
  );
}

/** @param {any} view */
function showReadings(view) {
  const channels = Object.keys(view.readings).filter((channel) => !ELSEWHERE.has(channel));
  const shown = channels.map((channel) => [channel, view.readings[channel].value, view.readings[channel].unit]);
  rebuild(byId("temperatures"), JSON.stringify(shown), () =>
    shown.map(([channel, value, unit]) =>
      make(
        "div",
        { "data-channel": channel },
        make("dt", {}, channelName(channel)),
        make("dd", {}, ...aged(channel, channel === "vacuum/pressure" ? vacuum(value) : format.reading(value, unit))),
      ),
    ),
  );
}

/** @param {any} view */
function showContainers(view) {
  rebuild(byId("containers"), JSON.stringify([view.mass_at === null, view.containers]), () =>
    view.containers.map((/** @type {any} */ row) =>
      make(
        "tr",
        {},
        make("th", { scope: "row" }, `${row.id}${row.mounted ? t(", on the scale") : ""}, ${t(row.draw)}`),
        make("td", {}, view.mass_at === null ? t("unknown") : withU(row.drawn_kg, row.drawn_u_kg)),
        make("td", {}, row.left_kg === null ? t("unknown") : format.mass(row.left_kg)),
      ),
    ),
  );
}

/**
 * Count every age on and fade what is silent.
 * @param {any} view
 * @param {ServerClock} clock
 * @param {Freshness} freshness
 * @param {boolean} lost
 */
export function showAges(view, clock, freshness, lost) {
  for (const element of document.querySelectorAll("[data-age-of]")) {
    const channel = /** @type {HTMLElement} */ (element).dataset.ageOf ?? "";
    const reading = view.readings[channel];
    const holder = /** @type {HTMLElement} */ (element.closest("[data-channel]"));
    if (reading === undefined) {
      put(element, t("not heard yet"));
      continue;
    }
    const ageS = clock.ageS(reading.at);
    const stale = lost || freshness.stale(channel, reading.live, ageS);
    if (holder) holder.dataset.stale = String(stale);
    put(element, stale ? t("silent since {span}", { span: format.span(ageS === null ? null : Math.floor(ageS)) }) : format.age(ageS));
  }
}

/** @param {any} view */
function showCautions({ refrigerant, safety }) {
  const flammable = safety?.flammable ? t(", flammable") : "";
  put(byId("safety-class"), t("{refrigerant}: safety class {class}", { refrigerant, class: safety?.class ?? t("unknown") }) + flammable);
  list("cautions", safety?.cautions.map(said) ?? [
    t("No cautions are known. Goggles and insulating gloves; move air; no flame; recover, never let out."),
  ]);
}
