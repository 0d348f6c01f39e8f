/** The big place while a step other than charging is in progress, and the course of the vacuum gauge. */
import { showBetween } from "./between.js";
import { fitNumber } from "./big_number.js";
import { byId, put } from "./dom.js";
import { CycleView } from "./cycle_view.js";
import * as format from "./format.js";
import { History } from "./history.js";
import { t } from "./i18n.js";
import { openingAction, readsGauge } from "./opening.js";
import { list, rows, showVerdict } from "./panels.js";
import { fitOf, stageOf, vacuumPa } from "./stage.js";
import { between, bigStep } from "./steps.js";
import { drawVacuum } from "./vacuum_plot.js";

/** @typedef {import("./freshness.js").Freshness} Freshness */
/** @typedef {import("./clock.js").ServerClock} ServerClock */

const ASK_PAUSE_MS = 3000;

export class StageView {
  /**
   * `firstPage` of a job's log, where it stands how the gauges read; `cycle`: the points of the running circuit;
   * `course`: what the vacuum gauge read since a moment, for a page that comes later; then it is drawn anew.
   * @param {{firstPage: (job: string) => Promise<any>, cycle: (job: string) => Promise<any>,
   *   course: (job: string, sinceS: number) => Promise<any>, redraw: () => void}} asks
   */
  constructor({ firstPage, cycle, course, redraw }) {
    this.redraw = redraw;
    this.firstPage = firstPage;
    this.course = course;
    this.cycle = new CycleView(cycle);
    /** @type {string | null} */
    this.job = null;
    /** @type {any} the action that opened the job; null: not known, and no reading of a gauge is called absolute */
    this.opening = null;
    this.askAtMs = 0;
    this.history = new History();
    /** @type {string | null} channel whose age counts */
    this.channel = null;
  }

  /**
   * Learn once how the gauges of a job read.
   * @param {string} job
   */
  async learn(job) {
    if (job !== this.job) Object.assign(this, { job, opening: null, askAtMs: 0 });
    const now = performance.now();
    if (this.opening !== null || now < this.askAtMs) return;
    this.askAtMs = now + ASK_PAUSE_MS;
    try {
      const found = openingAction(await this.firstPage(job));
      if (this.job === job) this.opening = found;
    } catch {
      // asked again with one of the next states
    }
  }

  /** @param {any} view */
  show(view) {
    void this.learn(view.job);
    const step = bigStep(view);
    const weighs = step === null && between(view) === null;
    for (const id of ["mass", "window", "figures", "beside"]) byId(id).hidden = !weighs;
    showBetween(view);
    byId("stage").hidden = step === null;
    this.channel = null;
    if (step === null) return;
    const reads = (/** @type {string} */ channel) => readsGauge(this.opening, channel);
    const stage = stageOf(view, reads);
    this.channel = stage.channel;
    byId("stage").setAttribute("aria-label", stage.title);
    put(byId("stage-digits"), stage.digits);
    put(byId("stage-unit"), stage.unit);
    fitNumber(byId("stage-head"));
    put(byId("stage-plus"), stage.plus);
    put(byId("stage-what"), stage.what);
    showVerdict("stage-verdict", stage.verdict);
    rows("stage-figures", stage.figures);
    byId("stage-plot").toggleAttribute("hidden", !stage.plot);
    byId("cycle-plot").toggleAttribute("hidden", !stage.cycle);
    byId("stage-said").hidden = stage.plot || stage.cycle;
    list("stage-said", stage.said.slice(0, 3));
    if (stage.plot) this.plot(view, reads);
    if (stage.cycle) this.cycle.show(view);
  }

  /**
   * @param {any} view
   * @param {import("./stage.js").ReadsGauge} reads
   */
  plot(view, reads) {
    const { began, report } = view.steps[view.step];
    const numbers = report?.numbers ?? {};
    const reading = view.readings["vacuum/pressure"];
    const pa = vacuumPa(view, reads);
    const readable = reads("vacuum/pressure") === false;
    if (this.history.about(`${view.job} ${view.step} ${began} ${readable}`) && readable) void this.recall(view.job, began);
    if (reading && reading.at >= began && format.known(pa)) this.history.take(reading.at, pa);
    drawVacuum(byId("stage-plot"), byId("stage-plot-title"), this.history.all(), fitOf(numbers, reading?.at ?? null));
  }

  /** The device slept: what it missed is asked for. */
  wake() {
    this.history.about("");
  }

  /**
   * Take up what the gauge read before this page was opened.
   * @param {string} job
   * @param {number} beganS
   */
  async recall(job, beganS) {
    const { name } = this.history;
    try {
      const { points } = await this.course(job, beganS);
      if (this.history.name !== name) return;
      this.history.prepend(points);
      this.redraw();
    } catch {
      // the drawing begins where the page did
    }
  }

  /**
   * Ages, as time alone changes them.
   * @param {any} view
   * @param {{clock: ServerClock, freshness: Freshness, lost: boolean}} now
   * @returns {boolean} whether the step's own gauge was heard and is silent now
   */
  tick(view, { clock, freshness, lost }) {
    if (bigStep(view) === null) return false;
    const reading = this.channel === null ? undefined : view.readings[this.channel];
    const ageS = reading === undefined ? null : clock.ageS(reading.at);
    const silent = reading !== undefined && freshness.stale(this.channel ?? "", reading.live, ageS);
    const stale = (lost && reading !== undefined) || silent;
    byId("stage").dataset.stale = String(stale);
    byId("stage-head").dataset.stale = String(stale);
    byId("stage-figures").dataset.stale = String(stale);
    const old = ageS === null ? t("not live") : t("silent since {span}", { span: format.span(Math.floor(ageS)) });
    put(byId("stage-age"), reading === undefined ? t("not heard yet") : stale ? old : format.age(ageS));
    return silent;
  }
}
