// The station's service worker: pages that were opened here open again without a network, as they were.
// Everything a page shows goes through the network first; only what is named by its contents (static files) does not.
const PAGES = "shopflow-pages";
const PARTS = "shopflow-parts";
const AWAY = "/floor/away/";
const MOST_PAGES = 40;
const MOST_PARTS = 150;
const PATIENCE = 6000;

self.addEventListener("install", (event) => event.waitUntil(self.skipWaiting()));
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("message", (event) => {
  const { parts = [], pages = [] } = event.data;
  event.waitUntil(Promise.allSettled([...parts.map((path) => keepPart(path)), ...pages.map((path) => keepUnlessThere(path))]));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(partOf(request));
  else if (request.mode === "navigate" && url.pathname.startsWith("/floor/")) event.respondWith(pageOf(event, named(url)));
});

// A code that was scanned names its page itself.
function named(url) {
  if (url.pathname !== "/floor/scanned/") return url.pathname;
  return URL.canParse(url.searchParams.get("code") ?? "") ? new URL(url.searchParams.get("code")).pathname : url.pathname;
}

async function partOf(request) {
  const kept = await caches.match(request, { cacheName: PARTS });
  if (kept) return kept;
  const answer = await fetch(request);
  if (answer.ok) await keep(PARTS, MOST_PARTS, request.url, answer.clone());
  return answer;
}

async function keepPart(path) {
  if (!(await caches.match(path, { cacheName: PARTS }))) await partOf(new Request(path));
}

// The page that set this worker up came before it could see it.
async function keepUnlessThere(path) {
  if (!(await caches.match(path, { cacheName: PAGES }))) await fetchPage(new Request(path, { redirect: "manual" }), path);
}

const isPage = (answer) => answer.status === 200 && answer.headers.get("Content-Type")?.startsWith("text/html");

async function fetchPage(request, path) {
  const answer = await fetch(request);
  if (isPage(answer)) await keep(PAGES, MOST_PAGES, path, answer.clone());
  return answer;
}

// The oldest go first: what is put again stands at the end.
async function keep(name, most, path, answer) {
  const cache = await caches.open(name);
  await cache.delete(path);
  await cache.put(path, answer);
  const all = await cache.keys();
  await Promise.all(all.slice(0, Math.max(0, all.length - most)).map((request) => cache.delete(request)));
}

async function pageOf(event, path) {
  const coming = fetchPage(event.request, path);
  event.waitUntil(coming.catch(() => {}));
  const kept = await caches.match(path, { cacheName: PAGES });
  try {
    return await (kept ? atMost(PATIENCE, coming) : coming);
  } catch {
    return (kept && asKept(kept)) ?? (await sameOp(path)) ?? (await away()) ?? Response.error();
  }
}

function atMost(milliseconds, coming) {
  const tooLong = new Promise((resolve, reject) => setTimeout(() => reject(new Error("no answer")), milliseconds));
  return Promise.race([coming, tooLong]);
}

// A code on a traveler names packet and op; without the server its op page is the one of that op that was seen here.
async function sameOp(path) {
  const step = path.match(/^\/floor\/packet\/\d+\/op\/(\d+)\/$/)?.[1];
  if (!step) return undefined;
  const seen = (await (await caches.open(PAGES)).keys()).map((request) => new URL(request.url).pathname);
  const found = seen.filter((page) => page.startsWith("/floor/lot/") && page.endsWith(`/op/${step}/`));
  return found.length === 1 ? Response.redirect(found[0]) : undefined;
}

async function away() {
  const kept = await caches.match(AWAY, { cacheName: PAGES });
  return kept && asKept(kept);
}

// The page says itself that it is old: when the server made it stands in the answer's Date.
async function asKept(answer) {
  const made = new Date(answer.headers.get("Date") ?? Date.now()).toISOString();
  const html = (await answer.text()).replace("<body ", `<body data-kept-from="${made}" `);
  return new Response(html, { status: 200, headers: answer.headers });
}
