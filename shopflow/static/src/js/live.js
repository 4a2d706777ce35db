// Asks the change counter each second and fetches only what changed. On an element with data-changes-url:
//   data-since="N"        the counter when the page was made
//   data-strip-url        address of one strip, with 0 where its number goes; data-list  the selector of the list
// The counter answers 204, or {"counter": M, "strips": [numbers]}. Fragments that are not strips listen for the event
// "shopflow:changed" on the body: hx-trigger="shopflow:changed from:body".
import { found, lost } from "./connection.js";

const EVERY = 1000;
const HIDDEN_EVERY = 15000;
const SLOWEST = 20000;
const TOO_MANY = 8;
const watched = new WeakSet();

class Watcher {
  constructor(element, htmx) {
    this.element = element;
    this.htmx = htmx;
    this.since = Number(element.dataset.since || 0);
    this.failures = 0;
    this.timer = 0;
  }

  start() {
    document.addEventListener("visibilitychange", () => this.soon(document.hidden ? HIDDEN_EVERY : 0));
    window.addEventListener("online", () => this.soon(0));
    this.soon(EVERY);
  }

  soon(wait) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.ask(), wait);
  }

  pause() {
    if (document.hidden) return HIDDEN_EVERY;
    return Math.min(SLOWEST, EVERY * 2 ** this.failures);
  }

  async ask() {
    if (!this.element.isConnected) return;
    try {
      await this.readAnswer(await fetch(this.address(), { headers: { Accept: "application/json" }, redirect: "manual" }));
    } catch {
      this.failures += 1;
      if (this.failures > 1) lost();
    }
    this.soon(this.pause());
  }

  address() {
    const url = new URL(this.element.dataset.changesUrl, location.href);
    url.searchParams.set("since", this.since);
    return url;
  }

  async readAnswer(response) {
    // A redirect leads to the log-in: the session has ended, and the page says so by being loaded again.
    if (response.type === "opaqueredirect" || response.status === 403) return location.reload();
    if (!response.ok) throw new Error(`the change counter answered ${response.status}`);
    this.failures = 0;
    found();
    if (response.status === 204) return;
    const change = await response.json();
    this.since = change.counter;
    this.fetchChanged(change);
  }

  fetchChanged(change) {
    const strips = change.strips ?? [];
    document.body.dispatchEvent(new CustomEvent("shopflow:changed", { detail: change, bubbles: true }));
    if (!this.element.dataset.stripUrl || strips.length === 0) return;
    const shown = strips.filter((number) => document.getElementById(`strip-${number}`));
    const { list } = this.element.dataset;
    // A strip that is not shown may be a new job, which belongs somewhere in the list; one job's page has no list.
    if (list && (shown.length < strips.length || shown.length > TOO_MANY)) this.fetchList(list);
    else shown.forEach((number) => this.fetchStrip(number));
  }

  fetchStrip(number) {
    const url = this.element.dataset.stripUrl.replace(/\b0\b/, number);
    const before = document.getElementById(`strip-${number}`);
    const scrolled = before.querySelector(".strip-run")?.scrollLeft ?? 0;
    this.htmx.ajax("GET", url, { source: this.element, target: before, swap: "outerHTML" }).then(() => {
      const strip = document.getElementById(`strip-${number}`);
      strip?.classList.add("strip-fresh");
      strip?.querySelector(".strip-run")?.scrollTo({ left: scrolled });
    });
  }

  fetchList(list) {
    this.htmx.ajax("GET", location.href, { source: this.element, target: list, select: list, swap: "outerHTML" });
  }
}

export function start(element, htmx) {
  if (watched.has(element)) return;
  watched.add(element);
  new Watcher(element, htmx).start();
}
