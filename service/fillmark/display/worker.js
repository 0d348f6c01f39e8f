/**
 * Keeps the page itself on the device, so that it opens while the service is away and says so. It never keeps a
 * reading: what begins with /v1/ goes to the network alone.
 */
const SHELL = "fillmark-shell";
const PATIENCE_MS = 2500;

self.addEventListener("install", () => void self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { pathname, origin } = new URL(request.url);
  const shell = request.method === "GET" && origin === location.origin && !/^\/(v1|health|metrics|openapi)/.test(pathname);
  if (shell) event.respondWith(newest(request));
});

/**
 * The service's own file while it answers, so that page and service are of one version; else the kept one.
 * @param {Request} request
 */
async function newest(request) {
  const kept = await caches.open(SHELL);
  const fresh = fetch(request).then(async (answer) => {
    if (answer.ok) await kept.put(request, answer.clone());
    return answer;
  });
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS));
  const first = await Promise.race([fresh.catch(() => null), late]);
  if (first instanceof Response) return first;
  return (await kept.match(request, { ignoreSearch: true })) ?? fresh;
}
