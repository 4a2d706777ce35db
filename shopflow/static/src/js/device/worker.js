// Sets the service worker up, and tells it what the page at hand is made of, so that it opens without a network.
const PAGES = "shopflow-pages";

export async function start(element) {
  if (!("serviceWorker" in navigator)) return; // plain http on a network: the device keeps reports, not pages
  const { workerUrl, awayUrl } = element.dataset;
  if (!location.pathname.startsWith(workerUrl.replace(/[^/]*$/, ""))) return; // its address bounds what it may serve
  await navigator.serviceWorker.register(workerUrl);
  await import("../counter.js"); // an op that is started later without a network shows its count then
  const { active } = await navigator.serviceWorker.ready;
  const parts = performance.getEntriesByType("resource").map((entry) => new URL(entry.name).pathname);
  const isKept = document.body.dataset.keptFrom;
  active.postMessage({ parts: parts.filter((path) => path.startsWith("/static/")), pages: isKept ? [] : [location.pathname, awayUrl] });
}

// What a person saw here is nobody's business after they logged out.
export function forgetPages() {
  return "caches" in window ? caches.delete(PAGES) : Promise.resolve();
}

// Without a network the server cannot be told: the page is emptied, and tells it as soon as there is one.
function logOutLater(form) {
  const text = document.getElementById("kept")?.dataset.logOutLater;
  document.getElementById("main").replaceChildren(Object.assign(document.createElement("p"), { textContent: text }));
  document.title = text;
  form.hidden = true;
  window.addEventListener("online", () => form.submit(), { once: true });
}

export function watchLogOut() {
  document.addEventListener("submit", (event) => {
    if (!event.target.matches?.("form[action$='/log-out/']")) return;
    forgetPages();
    if (navigator.onLine) return;
    event.preventDefault();
    logOutLater(event.target);
  });
  if (document.querySelector("[data-log-in]")) forgetPages();
}
