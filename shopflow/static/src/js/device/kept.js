// The list of what this device keeps: shown on every page while there is something, and sent from there.
import * as clock from "./clock.js";
import * as sender from "./sender.js";
import * as store from "./store.js";

const EVERY = 5000;
const AT_MOST = 10000; // not every browser tells that its network is back
let panel = null;
let timer = 0;
let trying = false;
let backMeanwhile = false;
let failures = 0;
let why = "";

const counted = (n, one, many) => (n === 1 ? one : many.replace("{n}", n));
const isMine = (report) => report.person === panel.dataset.person;

function rowOf(report, isBehind) {
  const row = panel.querySelector("template").content.cloneNode(true).firstElementChild;
  row.querySelector(".kept-words").textContent = report.words;
  const at = new Date(report.madeAt);
  row.querySelector("[data-state]").textContent = isBehind
    ? panel.dataset.heldBack
    : at.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  if (report.state === "refused") {
    row.querySelector(".kept-refused").hidden = false;
    row.querySelector(".kept-refused p").textContent = report.sentence;
    row.querySelector("[data-again]").addEventListener("click", () => again(report));
    row.querySelector("[data-discard]").addEventListener("click", () => discard(report));
  }
  return row;
}

async function again(report) {
  await store.put({ ...report, state: "waiting", sentence: "" });
  await send();
}

async function discard(report) {
  await store.remove(report.id);
  await show();
  await send();
}

function rows(mine) {
  const stuck = new Set();
  return mine.map((report) => {
    const isBehind = stuck.has(report.lot) && report.state !== "refused";
    if (report.state === "refused") stuck.add(report.lot);
    return rowOf(report, isBehind);
  });
}

function headOf(mine) {
  const says = panel.dataset;
  const refused = mine.filter((report) => report.state === "refused").length;
  const waiting = mine.length - refused;
  const parts = [];
  if (refused) parts.push(counted(refused, says.oneRefused, says.manyRefused));
  if (waiting) parts.push(refused ? counted(waiting, says.oneBehind, says.manyBehind) : counted(waiting, says.one, says.many));
  return parts.join(", ");
}

function othersOf(others, isSomebody) {
  if (!others) return "";
  const says = panel.dataset;
  return isSomebody ? counted(others, says.othersOne, says.othersMany) : counted(others, says.nobodyOne, says.nobodyMany);
}

function explain(mine) {
  const says = panel.dataset;
  const place = panel.querySelector("[data-why]");
  const waits = mine.some((report) => report.state !== "refused");
  const text = { away: says.away, trouble: says.trouble, "logged-out": says.loggedOut, sending: says.sending }[why] ?? "";
  place.textContent = waits ? text : "";
  if (waits && clock.minutesOff() > 1) place.append(` ${says.clock.replace("{n}", clock.minutesOff())}`);
  if (waits && why === "logged-out") place.append(" ", logInLink());
}

function logInLink() {
  const link = panel.querySelector("[data-log-in-link]").content.cloneNode(true).firstElementChild;
  link.href = `${panel.dataset.logInUrl}?next=${encodeURIComponent(location.pathname)}`;
  return link;
}

// What other parts of the page do with what waits: the op page shows itself as it will be.
function tell(mine) {
  document.dispatchEvent(new CustomEvent("shopflow:kept", { detail: { reports: mine } }));
}

export async function show() {
  const reports = await store.all();
  const isSomebody = Boolean(panel.dataset.person);
  const mine = isSomebody ? reports.filter(isMine) : [];
  panel.hidden = reports.length === 0;
  panel.querySelector("h2").textContent = headOf(mine);
  panel.querySelector("h2").hidden = mine.length === 0;
  panel.querySelector(".kept-list").replaceChildren(...rows(mine));
  panel.querySelector("[data-others]").textContent = othersOf(reports.length - mine.length, isSomebody);
  panel.classList.toggle("kept-needed", mine.some((report) => report.state === "refused") || why === "logged-out");
  explain(mine);
  tell(mine);
  return mine;
}

export const whose = () => panel?.dataset.person ?? "";
export const says = (name) => panel?.dataset[name] ?? "";

export async function because(reason) {
  why = reason;
  await show();
  later();
}

// Afterwards the page is loaded anew where something was counted and nothing waits, to show how things stand.
// The network may come back while a try without it has not ended yet: then that end is not waited out, but tried again.
export async function send() {
  if (!whose()) return;
  if (trying) {
    backMeanwhile = true;
    return;
  }
  trying = true;
  clearTimeout(timer);
  try {
    const mine = await show();
    if (!mine.some((report) => report.state === "waiting")) return;
    const end = await sender.sendWaiting(whose(), says);
    why = end.kind === "done" ? "" : end.kind;
    failures = end.kind === "done" || end.delivered ? 0 : failures + 1;
    const left = await show();
    if (end.delivered && left.length === 0 && showsTheFloor() && isUntouched()) location.reload();
  } finally {
    trying = false;
    if (backMeanwhile) {
      backMeanwhile = false;
      failures = 0;
      send();
    } else later();
  }
}

const showsTheFloor = () => document.getElementById("op") || document.getElementById("waiting");

// What somebody is typing meanwhile stays.
function isUntouched() {
  return [...document.querySelectorAll("input, textarea, select")].every((field) =>
    field.matches("select")
      ? [...field.options].every((option) => option.selected === option.defaultSelected) || field.selectedIndex === 0
      : field.value === field.defaultValue && field.checked === field.defaultChecked,
  );
}

function later() {
  clearTimeout(timer);
  if (why) timer = setTimeout(send, Math.min(EVERY * 2 ** Math.min(failures, 1), AT_MOST));
}

export function start(element) {
  if (element === panel) return;
  if (!panel) {
    window.addEventListener("online", send);
    document.addEventListener("visibilitychange", () => document.hidden || send());
  }
  panel = element;
  (whose() ? send() : show()).catch(() => {}); // a browser that keeps nothing (private windows) has nothing to show
}
