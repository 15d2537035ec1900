/* Keeps the pages of today on the phone: the network first, what is kept when there is none. */
"use strict";

const KEPT = "firstwarm-{{ version }}";
const SHELL = [{% for url in shell %}"{{ url|escapejs }}"{% if not forloop.last %}, {% endif %}{% endfor %}];
const OFFLINE = "{{ offline|escapejs }}";
const NETWORK_WITHIN_MS = 4000;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEPT).then((kept) => kept.addAll(SHELL)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const others = (names) => names.filter((name) => name !== KEPT);
  event.waitUntil(caches.keys().then((names) => Promise.all(others(names).map((name) => caches.delete(name)))).then(() => self.clients.claim()));
});

self.addEventListener("message", (event) => {
  const work = caches.open(KEPT).then(async (kept) => {
    for (const url of event.data.keep) {
      const answer = await fetch(url, { credentials: "same-origin" });
      if (answer.ok && !answer.redirected) await kept.put(url, answer);
    }
    event.ports[0].postMessage("kept");
  });
  event.waitUntil(work);
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (SHELL.includes(url.pathname)) event.respondWith(fromShell(request));
  else if (request.mode === "navigate" && /^\/(today|field|outbox)\//.test(url.pathname)) event.respondWith(page(request));
});

async function fromShell(request) {
  return (await caches.match(request, { ignoreSearch: true })) || fetch(request);
}

async function page(request) {
  const kept = await caches.open(KEPT);
  try {
    const answer = await Promise.race([fetch(request), late()]);
    // What an address says once (that a photo is kept) is not said again without signal.
    if (answer.ok && !answer.redirected && !new URL(request.url).search) await kept.put(request, answer.clone());
    return answer;
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    return (await kept.match(request, { ignoreSearch: true })) || kept.match(OFFLINE);
  }
}

function late() {
  return new Promise((_, reject) => setTimeout(() => reject(new TypeError("late")), NETWORK_WITHIN_MS));
}
