"use strict";
// Keeps the log form, today's screens and the notes to read tonight for use without a connection.
// With one, everything comes from missbook. Only this origin; nothing that was sent is kept.
const CACHE = "missbook-1";
const KEPT = ["/", "/log", "/log/block", "/read/tonight"];

async function keep(request, answer) {
  const own = new URL(request.url);
  const wanted = KEPT.includes(own.pathname) || own.pathname.startsWith("/static/");
  if (wanted && answer.ok && !answer.redirected && answer.type === "basic") {
    const cache = await caches.open(CACHE);
    await cache.put(own.pathname, answer);
  }
}

async function answer(event) {
  const path = new URL(event.request.url).pathname;
  try {
    const found = await fetch(event.request);
    event.waitUntil(keep(event.request, found.clone()));
    return found;
  } catch (error) {
    const kept = await (await caches.open(CACHE)).match(path);
    if (kept) {
      return kept;
    }
    throw error;
  }
}

self.addEventListener("activate", function (event) {
  event.waitUntil(self.clients.claim());
});

self.addEventListener("fetch", function (event) {
  const own = new URL(event.request.url).origin === self.location.origin;
  if (own && event.request.method === "GET") {
    event.respondWith(answer(event));
  }
});

async function fetched(path) {
  const request = new Request(path);
  const found = await fetch(request);
  const text = path.startsWith("/static/") ? "" : await found.clone().text();
  await keep(request, found);
  return text;
}

self.addEventListener("message", function (event) {
  // Once the first screen is there, the others are fetched to be kept, with their scripts and styles.
  async function all() {
    const parts = new Set();
    for (const path of KEPT) {
      for (const [, part] of (await fetched(path)).matchAll(/"(\/static\/[^"]+)"/g)) {
        parts.add(part);
      }
    }
    await Promise.all([...parts].map(fetched));
  }
  if (event.data === "keep") {
    event.waitUntil(all().catch(() => {})); // No connection: what is kept stays.
  }
});
