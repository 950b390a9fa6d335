// Keeps pages and files for when there is no signal. Pages are asked of the server first, files are not: their names
// change with them. What is kept of pages is put there by device.js, under the person who may see it.
"use strict";
const FILES = "files-{{ version }}";
const QUEUE = "{% url "device_queue" %}";
const KEPT = [{% for asset in assets %}"{{ asset|escapejs }}", {% endfor %}];
const PATIENCE = 5000; // a signal that comes and goes is none

self.addEventListener("install", (event) => event.waitUntil(caches.open(FILES).then((cache) => cache.addAll(KEPT))));

self.addEventListener("activate", (event) => event.waitUntil((async () => {
  const old = (await caches.keys()).filter((name) => name.startsWith("files-") && name !== FILES);
  await Promise.all(old.map((name) => caches.delete(name)));
  await self.clients.claim();
})()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET" || new URL(request.url).origin !== self.location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(request));
  else if (request.url.endsWith("/bundle.json")) event.respondWith(told(request));
  else if (["script", "style", "image"].includes(request.destination)) event.respondWith(file(request));
});

const asked = (request) => Promise.race([fetch(request), new Promise((_ok, no) => setTimeout(no, PATIENCE))]);

async function page(request) {
  try {
    return await asked(request);
  } catch {
    return await caches.match(request) || await caches.match(request, { ignoreSearch: true })
      || await caches.match(QUEUE) || Response.error();
  }
}

async function told(request) {
  try {
    return await asked(request);
  } catch {
    return await caches.match(request) || Response.error();
  }
}

async function file(request) {
  return await caches.match(request) || fetch(request);
}
