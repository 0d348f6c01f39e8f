/** Wiring: one job from the service, shown until it is closed, and a form for the next one. */
import { Actions } from "./actions.js";
import { Alarm } from "./alarm.js";
import { Api, RefusedError } from "./api.js";
import { Boards } from "./boards.js";
import { ServerClock } from "./clock.js";
import { SHAPES, byId, make, put, rebuild } from "./dom.js";
import { Finder } from "./finder.js";
import * as format from "./format.js";
import { Freshness } from "./freshness.js";
import { t, translate } from "./i18n.js";
import { wireForms } from "./job_forms.js";
import { showMoment, showState } from "./live_view.js";
import { Awake, keepPage } from "./offline.js";
import { showPlanned } from "./open_form.js";
import { showAges, showPanels } from "./panels.js";
import { showPoints, showRaised } from "./point_list.js";
import { loadNames } from "./refrigerant_names.js";
import { showHints, showOil, showRecord, showReport } from "./report_view.js";
import { saidText } from "./service_text.js";
import { dress, wireSettings } from "./settings_panel.js";
import { StageView } from "./stage_view.js";
import { StepPanel } from "./step_panel.js";
import { UNACKNOWLEDGED, announcements, firstActive, isActive } from "./stop_points.js";
import { title } from "./steps.js";
import { JobStream } from "./stream.js";
import { relabel } from "./sure.js";
import { Undo } from "./undo.js";

const TICK_MS = 250;
const LINK_WORDS = Object.freeze({ waiting: "connecting", live: "live", lost: "no connection" });
const LINK_SHAPES = Object.freeze({ waiting: "hourglass", live: "dot", lost: "bolt" });

dress();
translate(document.body);
const bay = new URLSearchParams(location.search).get("bay");
const nowMs = () => performance.now();
const clock = new ServerClock(nowMs);
const api = new Api(clock);
const alarm = new Alarm();
const awake = new Awake();
const freshness = new Freshness();
const finder = new Finder(api, bay, nowMs);
const boards = new Boards(() => view !== null && redraw());
const stage = new StageView({
  firstPage: (job) => api.get(`${pathOf(job)}/log?limit=1`),
  cycle: (job) => api.get(`${pathOf(job)}/cycle`),
  course: (job, sinceS) => api.get(`${pathOf(job)}/course?channel=vacuum/pressure&since=${sinceS}`),
  redraw: () => view !== null && redraw(),
});
/** @type {any} */
let view = null;

const stream = new JobStream({
  fetchJob,
  open: (job) => new EventSource(`${pathOf(job)}/stream`),
  nowMs,
  onState,
  onStopPoint: (moved) => {
    if (moved.after === "normal" || moved.after.startsWith("returned")) say("say-politely", [saidText(moved.text)]);
  },
});
const actions = new Actions({
  post: (action) => api.post(`${pathOf(view.job)}/actions`, action),
  view: () => view,
  wantsToken,
  offer: (way) => undo.offer(way),
});
const undo = new Undo((action, button) => actions.send(action, button, "action-result", false));

const steps = new StepPanel((...given) => actions.send(...given), () => showReport(view, steps.chosen));

/** @param {string} job */
function pathOf(job) {
  return `v1/jobs/${encodeURIComponent(job)}`;
}

/** @param {string} job */
async function fetchJob(job) {
  try {
    return await api.get(pathOf(job));
  } catch (error) {
    if (error instanceof RefusedError && error.status === 404) forget();
    throw error;
  }
}

/** The service no longer knows the job. */
function forget() {
  stream.leave();
  view = null;
}

/** @param {any} next */
function onState(next) {
  const sameJob = view?.job === next.job;
  const news = announcements(sameJob ? view.active : [], next.active);
  if (!sameJob) freshness.reset();
  if (sameJob && view.closed_at === null && next.closed_at !== null) boards.choose("record");
  clock.take(next.now);
  freshness.take(next.readings);
  view = next;
  byId("job").hidden = false; // it must have a size before it is drawn
  redraw();
  steps.show(view);
  showReport(view, steps.chosen);
  showRecord(view);
  showHints(view);
  showOil(view);
  showPanels(view);
  showPoints(view, (action, button) => void actions.send(action, button));
  showPlanned(view, (action, button) => void actions.send(action, button));
  actions.show(view);
  const waiting = view.active.filter((/** @type {any} */ point) => UNACKNOWLEDGED.has(point.state));
  boards.count(view.closed_at === null ? waiting.length : 0);
  say("say-now", news.assertive);
  say("say-politely", news.polite);
  for (const severity of /** @type {const} */ (["critical", "warning", "notice"])) {
    if (news.raised.some((point) => point.severity === severity)) {
      alarm.once(severity);
      break;
    }
  }
  tick();
}

function redraw() {
  stage.show(view);
  showState(view);
}

/**
 * @param {string} id
 * @param {string[]} sentences
 */
function say(id, sentences) {
  if (sentences.length > 0) byId(id).replaceChildren(...sentences.map((text) => make("p", {}, text)));
}

/** @param {string} job */
function follow(job) {
  if (job !== stream.job) stream.follow(job);
}

function tick() {
  stream.tick();
  const jobIsOver = stream.job === null || (view !== null && view.closed_at !== null);
  if (jobIsOver) finder.tick(follow);
  const link = stream.job === null ? finder.state() : stream.link.look(nowMs());
  const lost = link.state === "lost";
  document.documentElement.dataset.link = link.state;
  put(byId("link-word"), t(LINK_WORDS[link.state]));
  byId("link-shape").setAttribute("d", SHAPES[LINK_SHAPES[link.state]]);
  byId("lost").hidden = !lost;
  put(byId("lost-age"), format.span(Math.floor(link.silentS)));
  byId("job").hidden = view === null;
  byId("open-section").hidden = !(finder.answered === true && jobIsOver);
  void awake.want(view !== null && view.closed_at === null);
  const places = where();
  rebuild(byId("where"), places.join(), () => places.map((place) => make("span", {}, place)));
  if (view !== null) showNow(link.state !== "live");
}

/** @param {boolean} lost */
function showNow(lost) {
  const ageS = clock.ageS(view.mass_at);
  const live = view.readings["scale/mass"]?.live ?? view.mass_live;
  const massStale = freshness.stale("scale/mass", live && view.mass_live, ageS);
  const gaugeStale = stage.tick(view, { clock, freshness, lost });
  const call = showMoment(view, { ageS, lost, massStale, gaugeStale, elapsedS: clock.ageS(view.judged_at) ?? 0 });
  const closed = view.closed_at !== null;
  byId("call-begin").hidden = call.severity !== "calm" || (!closed && (view.step !== null || steps.target === null));
  relabel(byId("call-begin"), closed ? t("Open a job") : t("Begin: {step}", { step: steps.target === null ? "" : title(steps.target) }));
  showAges(view, clock, freshness, lost);
  showRaised(clock);
  const waits = call.point !== null && isActive(call.point) && call.point.state === "unacknowledged active";
  alarm.repeat(waits && call.severity === "critical" ? "critical" : null, nowMs() / 1000);
  const sound = byId("sound");
  sound.setAttribute("aria-pressed", String(alarm.sounding));
  put(sound, t(alarm.sounding ? "Sound is on" : "Sound is off"));
}

function where() {
  if (view === null) return [...(bay === null ? [] : [bay]), t("no job open")];
  const step = view.step === null ? t("no step in progress") : title(view.step);
  return [view.job, view.refrigerant, view.closed_at === null ? step : t("closed")];
}

function wantsToken() {
  byId("token-form").hidden = false;
  byId("token-form").querySelector("input").focus();
}

/** The device may have slept, and its monotonic time with it: no age is known until the service has spoken. */
function wake() {
  clock.reset();
  stage.wake();
  stream.wake();
  tick();
}

function wire() {
  wireSettings();
  wireForms({ api, bay: bay ?? "bay-1", view: () => view, offer: (way) => undo.offer(way), opened: () => finder.look(follow), wantsToken });
  byId("call-acknowledge").addEventListener("click", () => {
    const first = firstActive(view);
    if (first === null) return;
    void actions.send({ type: "stop_point.acknowledge", stop_point: first.id, subject: first.subject }, byId("call-acknowledge"));
  });
  byId("call-begin").addEventListener("click", () => {
    if (view.closed_at !== null) return byId("open-form").elements.refrigerant.focus();
    if (steps.ready) return void steps.begin(byId("call-begin"));
    boards.choose("act");
    byId("step-form").elements.reason.focus();
  });
  byId("sound").addEventListener("click", () => {
    alarm.wanted = !alarm.sounding;
    if (alarm.wanted) void alarm.unlock().then(() => alarm.once("notice"));
  });
  for (const gesture of ["pointerdown", "keydown"]) {
    document.addEventListener(gesture, (event) => {
      if (!byId("sound").contains(event.target)) void alarm.unlock();
    });
  }
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && wake());
  document.addEventListener("resume", wake);
  addEventListener("online", () => stream.wake());
  addEventListener("resize", () => view !== null && redraw());
}

wire();
void finder.look(follow);
void loadNames(api);
setInterval(tick, TICK_MS);
keepPage();
