/* Lets a bench page that was opened before open again without the network. The network always goes first; nothing else
   is touched, and nothing that is sent is ever kept here. */
"use strict";

const KEPT = {{ kept|safe }};
const PAGES = "bench-pages";
const PARTS = "bench-parts";
const BENCH = /^\/batches\/[^/]+\/bench\/$/;

const isPart = (url) => KEPT.includes(url.pathname);

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(PARTS).then((parts) => parts.addAll(KEPT)).then(() => self.skipWaiting()));
});

async function takeOver() {
  const parts = await caches.open(PARTS);
  const old = (await parts.keys()).filter((request) => !isPart(new URL(request.url)));
  await Promise.all(old.map((request) => parts.delete(request)));
  await self.clients.claim();
  // The page that brought this script along came before it.
  const open = (await self.clients.matchAll()).map((client) => new URL(client.url));
  await Promise.all(open.filter((url) => BENCH.test(url.pathname)).map((url) => fresh(url.pathname, PAGES)));
}

self.addEventListener("activate", (event) => event.waitUntil(takeOver()));

async function fresh(request, shelf) {
  const answer = await fetch(request);
  if (answer.ok && !answer.redirected) await (await caches.open(shelf)).put(request, answer.clone());
  return answer;
}

async function freshOrKept(request, shelf) {
  try {
    return await fresh(request, shelf);
  } catch (error) {
    const kept = await (await caches.open(shelf)).match(request, { ignoreSearch: true, ignoreVary: true });
    if (kept) return kept;
    throw error;
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.mode === "navigate" && BENCH.test(url.pathname)) event.respondWith(freshOrKept(request, PAGES));
  else if (isPart(url)) event.respondWith(freshOrKept(request, PARTS));
});
