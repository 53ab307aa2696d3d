// @ts-check
// The service worker: keeps the shell whole under its version, and opens the barn page where there is no signal.

const scope = /** @type {ServiceWorkerGlobalScope & { kept: { version: string, shell: string, addresses: string[] } }} */ (/** @type {unknown} */ (self));
const { version, shell, addresses } = scope.kept;
const NAME = `shell-${version}`;

scope.addEventListener("install", (event) => {
  // all or nothing: a half-kept shell would open a broken page in the barn
  event.waitUntil(
    caches
      .open(NAME)
      .then((cache) => cache.addAll([shell, ...addresses].map((address) => new Request(address, { cache: "reload" }))))
      .then(() => scope.skipWaiting()),
  );
});

scope.addEventListener("activate", (event) => {
  const old = caches.keys().then((names) => Promise.all(names.filter((name) => name.startsWith("shell-") && name !== NAME).map((name) => caches.delete(name))));
  event.waitUntil(old.then(() => scope.clients.claim()));
});

scope.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== scope.location.origin) return;
  if (url.pathname === shell || addresses.includes(url.pathname)) event.respondWith(fromShell(request, url));
  else if (request.mode === "navigate") event.respondWith(fetch(request).catch(() => Response.redirect(shell, 302)));
});

/** What is kept of this version, else the network. @param {Request} request @param {URL} url */
async function fromShell(request, url) {
  const cache = await caches.open(NAME);
  return (await cache.match(url.pathname)) ?? fetch(request);
}
