/**
 * Keeps the page itself on the device, so that it opens while the service is away and says so. It never keeps a
 * reading: what begins with /v1/ goes to the network alone.
 */
const SHELL = "fillmark-shell";
const PATIENCE_MS = 2500;
/** The whole page; a test holds this list to the folder. Kept together or not at all: half a page is none. */
const FILES = [
  "/", "actions.js", "alarm.js", "api.js", "base.css", "beside.js", "between.js", "big_number.js", "boards.css", "boards.js",
  "bodies.js", "refrigerant_names.js", "clock.js", "cycle_plot.js", "cycle_view.js", "de.js", "de_service.js", "dom.js", "ending.js",
  "fillmark.webmanifest", "finder.js", "format.js", "forms.js", "freshness.js", "history.js", "i18n.js",
  "icon-180.png", "icon.svg", "job_forms.js", "jobs.js", "json.js", "link.js", "live.css", "live_view.js", "main.js",
  "measure.js", "offline.js", "open_form.js", "opening.js", "panels.css", "panels.js", "point_list.js", "problem.js",
  "report_view.js", "service_text.js", "settings.js", "settings_panel.js", "stage.js", "stage_view.js",
  "step_panel.js", "steps.css", "steps.js", "stop_points.js", "stream.js", "sure.js", "undo.js", "units.js", "vacuum_plot.js",
  "vacuum_scale.js", "window_bar.js", "window_scale.js",
];

self.addEventListener("install", (event) => event.waitUntil(kept()));
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

async function kept() {
  const shell = await caches.open(SHELL);
  await shell.addAll(FILES);
  await self.skipWaiting();
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { pathname, origin } = new URL(request.url);
  const page = pathname === "/" || FILES.includes(pathname.slice(1));
  if (request.method === "GET" && origin === location.origin && page) event.respondWith(newest(request));
});

/**
 * The service's own file while it answers, so that page and service are of one version; else the kept one.
 * @param {Request} request
 */
async function newest(request) {
  const shell = await caches.open(SHELL);
  const fresh = fetch(request).then(async (answer) => {
    if (answer.ok) await shell.put(new URL(request.url).pathname, answer.clone());
    return answer;
  });
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS));
  const first = await Promise.race([fresh.catch(() => null), late]);
  if (first instanceof Response) return first;
  return (await shell.match(new URL(request.url).pathname)) ?? fresh;
}
