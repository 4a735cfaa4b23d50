// Keeps the page's own files on this device, so that it opens, and can alarm, while the hub does not answer. Nothing of a
// session is ever kept here, and nothing of /api or the socket passes through.

export {};

declare const self: ServiceWorkerGlobalScope;

/** Filled in by the build (`web/vite.config.ts`): every file of the page, and a name that changes with any of them. */
declare const shellFiles: readonly string[];
declare const shellName: string;

/** A hub that has not sent the page by then is taken to be gone: its own silence is an alarm after 2 s. */
const answerWithinMs = 2_000;

self.addEventListener('install', (event) => {
  event.waitUntil(
    (async () => {
      const cache = await caches.open(shellName);
      // Past the browser's own cache: a file of an older build must not be kept under a new name.
      await cache.addAll(shellFiles.map((path) => new Request(path, { cache: 'reload' })));
      await self.skipWaiting();
    })(),
  );
});

self.addEventListener('activate', (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) if (name !== shellName) await caches.delete(name);
      await self.clients.claim();
    })(),
  );
});

self.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== self.location.origin || url.pathname.startsWith('/api/'))
    return;
  if (request.mode === 'navigate') event.respondWith(pageFromHubElseKept(request));
  else if (shellFiles.includes(url.pathname)) event.respondWith(keptElseFromHub(request));
});

/** A tapped notice brings the page to the front. */
self.addEventListener('notificationclick', (event) => {
  event.notification.close();
  event.waitUntil(
    (async () => {
      const [page] = await self.clients.matchAll({ type: 'window' });
      if (page === undefined) await self.clients.openWindow('/live');
      else await page.focus();
    })(),
  );
});

/** The hub's is always the newer one. */
async function pageFromHubElseKept(request: Request): Promise<Response> {
  const fromHub = fetch(request).catch(() => undefined);
  const inTime = await Promise.race([
    fromHub,
    new Promise<undefined>((resolve) => setTimeout(resolve, answerWithinMs)),
  ]);
  if (inTime !== undefined) return inTime;
  const kept = await caches.match('/', { cacheName: shellName });
  return kept ?? (await fromHub) ?? Response.error();
}

/** Their names change with what is in them. */
async function keptElseFromHub(request: Request): Promise<Response> {
  return (await caches.match(request, { cacheName: shellName })) ?? fetch(request);
}
