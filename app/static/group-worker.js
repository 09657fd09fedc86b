// Shows a group's page without network, as it was kept: the network is always asked first.
//
// It reaches nothing but /sessions/group/. It keeps nothing by itself: the page puts itself there
// (group.js), until a time that it names, and signing out clears it.
"use strict";
const STORE = "chuckkey group";

const kept = async (path) => {
  const store = await caches.open(STORE);
  const found = await store.match(path);
  const until = found?.headers.get("X-Kept-Until");
  if (until && Number(until) < Date.now()) {
    await store.delete(path);
    return Response.error();
  }
  return found ?? Response.error();
};

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== self.location.origin) return;
  if (request.mode === "navigate") {
    // A form that reached nobody leads back to the page that keeps its ticks.
    const back = () =>
      request.method === "GET" ? kept(pathname) : Response.redirect(pathname.replace(/\/read$/, ""), 303);
    event.respondWith(fetch(request).catch(back));
  } else if (request.method === "GET" && pathname.startsWith("/static/")) {
    event.respondWith(fetch(request).catch(() => kept(pathname)));
  }
});
