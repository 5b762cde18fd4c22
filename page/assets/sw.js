// Keeps the recording page on the phone, so that it opens where there is no signal.
// The records themselves are never kept here: only the page, its files and the birds' names.
const SHELF = "varvel-@TAG@";
const FILES = ["/note", "/a/@TAG@/varvel.css", "/a/@TAG@/varvel.js", "/a/@TAG@/ear.js", "/icon.svg", "/icon-192.png", "/manifest.webmanifest"];

self.addEventListener("install", (e) => {
  e.waitUntil(caches.open(SHELF).then((shelf) => shelf.addAll(FILES.map((f) => new Request(f, { cache: "reload" })))).then(() => self.skipWaiting()));
});
self.addEventListener("activate", (e) => {
  e.waitUntil(caches.keys().then((names) => Promise.all(names.filter((n) => n !== SHELF).map((n) => caches.delete(n)))).then(() => self.clients.claim()));
});
self.addEventListener("fetch", (e) => {
  const url = new URL(e.request.url);
  if (e.request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/a/") || FILES.includes(url.pathname) && url.pathname !== "/note") {
    e.respondWith(caches.match(e.request).then((kept) => kept || fetch(e.request)));
  } else if (url.pathname === "/birds.json") {
    e.respondWith(fresh(e.request, "/birds.json"));
  } else if (e.request.mode === "navigate") {
    e.respondWith(fresh(e.request, url.pathname === "/note" ? "/note" : null).catch(() => caches.match("/note")));
  }
});

// From home if it answers; else what was kept.
async function fresh(request, keepAs) {
  const shelf = await caches.open(SHELF);
  try {
    const answer = await fetch(request, request.mode === "navigate" ? {} : { signal: AbortSignal.timeout(5000) });
    if (keepAs && answer.ok) shelf.put(keepAs, answer.clone());
    return answer;
  } catch (away) {
    const kept = keepAs && await shelf.match(keepAs);
    if (kept) return kept;
    throw away;
  }
}
