// Reports of the op page: kept on this device first, then sent. Without this script the form is sent the plain way.
import * as clock from "./clock.js";
import * as kept from "./kept.js";
import * as sender from "./sender.js";
import * as store from "./store.js";

const NOT_KEPT = new Set(["csrfmiddlewaretoken", "key"]);
const TAKES = new Set(["good", "scrap", "hold", "lose", "outside", "split", "rework"]);
const page = () => document.getElementById("op");

function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return `device-${[...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("")}`;
}

function wordsOf(form, fields) {
  const { job, number, opWord } = page().dataset;
  const typed = ["quantity", "reason", "text", "exceptions"].map((name) => fields.find(([field]) => field === name)?.[1]);
  return [`${job} ${opWord} ${number}`, [form.dataset.words, ...typed].filter(Boolean).join(" · ")].join(": ");
}

function reportOf(form, submitter) {
  const fields = [...new FormData(form, submitter)].filter(([name]) => !NOT_KEPT.has(name));
  return {
    key: newKey(),
    url: new URL(form.action).pathname,
    lot: page().dataset.lot,
    op: page().dataset.op,
    what: form.dataset.report,
    words: wordsOf(form, fields),
    fields,
    madeAt: clock.now(),
    person: kept.whose(),
    state: "waiting",
  };
}

function lock(form, isLocked) {
  form.setAttribute("aria-busy", isLocked);
  form.querySelectorAll("button").forEach((button) => (button.disabled = isLocked));
}

function refuse(form, sentence) {
  let box = form.querySelector("[data-refusal]");
  if (!box) {
    box = document.createElement("div");
    box.className = "form-errors";
    box.dataset.refusal = "";
    box.setAttribute("role", "alert");
    form.prepend(box);
  }
  box.textContent = sentence;
  box.scrollIntoView({ block: "nearest" });
}

async function send(form, submitter) {
  const report = reportOf(form, submitter);
  let stood;
  try {
    stood = (await store.all()).some((one) => one.person === report.person);
    report.id = await store.add(report);
  } catch {
    return form.submit(); // a browser that keeps nothing (private windows) sends it the plain way
  }
  if (stood) {
    // Others wait: this one keeps its place behind them.
    form.reset();
    lock(form, false);
    await kept.show();
    return kept.send();
  }
  const end = await sender.atOnce(report);
  if (end.kind === "done") {
    await store.remove(report.id);
    return location.reload();
  }
  lock(form, false);
  if (end.kind === "refused") {
    // It never waited: the person is here, with what was typed still in the form.
    await store.remove(report.id);
    return refuse(form, end.sentence ?? kept.says(end.why));
  }
  form.reset();
  form.closest("details")?.removeAttribute("open");
  return kept.because(end.kind);
}

// The op as it will be once everything that waits has arrived, in the order in which it was made.
function asItWillBe(state, report) {
  const quantity = Number(report.fields.find(([name]) => name === "quantity")?.[1] ?? 0);
  if (report.what === "start") return { ...state, runs: true, rests: false };
  if (report.what === "first-piece") return { ...state, firstPiece: false };
  if (report.what === "edges") return { ...state, edges: false };
  if (report.what === "finish") return { ...state, runs: false, rests: true };
  if (TAKES.has(report.what)) return { ...state, here: Math.max(0, state.here - quantity) };
  if (report.what === "add") return { ...state, here: state.here + quantity };
  return state;
}

function formsFor(state) {
  if (!state.runs) return [];
  const next = state.firstPiece ? "first-piece" : state.edges ? "edges" : "good";
  return [next, "finish"];
}

function redraw(state) {
  const root = page();
  root.querySelector("[data-here]").textContent = state.here;
  if (!state.changed) return;
  root.querySelector("[data-heading]").textContent = state.rests ? root.dataset.willRest : root.dataset.willRun;
  const templates = root.querySelector("template[data-later]").content;
  const parts = formsFor(state).map((stage) => templates.querySelector(`[data-stage="${stage}"]`)?.cloneNode(true));
  root.querySelector("[data-now]").replaceChildren(...parts.filter(Boolean));
  root.querySelectorAll("[data-now] [name=quantity]").forEach((field) => (field.max = state.here));
  root.dispatchEvent(new CustomEvent("shopflow:redrawn", { bubbles: true }));
}

const CHANGES = new Set(["start", "first-piece", "edges", "finish"]);

function follow(event) {
  const root = page();
  if (!root) return;
  const mine = event.detail.reports.filter((report) => report.op === root.dataset.op && report.state === "waiting");
  const { dataset } = root;
  const seen = mine.map((report) => report.key).join();
  if (seen === (dataset.drawn ?? "")) return;
  dataset.drawn = seen;
  const begin = {
    runs: "running" in dataset, rests: false, firstPiece: "firstPiece" in dataset, edges: "edges" in dataset,
    here: Number(dataset.standing), changed: mine.some((report) => CHANGES.has(report.what)),
  };
  redraw(mine.reduce(asItWillBe, begin));
}

// A page that the worker kept says when it was made.
function sayOlder() {
  const { keptFrom } = document.body.dataset;
  const box = document.getElementById("connection");
  if (!keptFrom || !box) return;
  const time = new Date(keptFrom).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  box.textContent = kept.says("older").replace("{t}", time);
  box.hidden = false;
}

let started = false;

export function start() {
  const list = document.querySelector("[data-kept-list]");
  if (list) kept.start(list);
  if (started || !kept.whose() || !("indexedDB" in window)) return;
  started = true;
  sayOlder();
  document.addEventListener("shopflow:kept", follow);
  kept.show();
  // Before the page's own watch over forms (forms.js), which would count this as sent.
  document.addEventListener(
    "submit",
    (event) => {
      const form = event.target.closest("form[data-report]");
      if (!form || event.defaultPrevented) return;
      event.preventDefault();
      if (form.getAttribute("aria-busy") === "true") return;
      lock(form, true);
      send(form, event.submitter);
    },
    { capture: true },
  );
}
