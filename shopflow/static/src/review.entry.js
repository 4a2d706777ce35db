// Program review by keyboard, and the window of a long program that follows the line that is looked at.
// The keys stand on the page (programs/_keys.html).
import htmx from "htmx.org";

import { offerReasons } from "./js/reasons.js";

const review = () => document.querySelector("[data-review]");
const findings = () => [...document.querySelectorAll(".finding")];
const chosen = () => document.querySelector(".finding-now");

function tell(line) {
  document.dispatchEvent(new CustomEvent("shopflow:line", { detail: { line } }));
}

function choose(finding) {
  if (!finding) return;
  chosen()?.classList.remove("finding-now");
  finding.classList.add("finding-now");
  finding.tabIndex = -1;
  finding.focus({ preventScroll: true });
  finding.scrollIntoView({ block: "nearest" });
  const link = finding.querySelector("[data-line]");
  if (link) tell(Number.parseInt(link.dataset.line, 10));
  offerReasons();
}

function step(by) {
  const all = findings();
  const at = all.indexOf(chosen());
  choose(all[at < 0 ? 0 : Math.min(all.length - 1, Math.max(0, at + by))]);
}

function mark() {
  const box = chosen()?.querySelector("input[name=finding]");
  if (box) box.checked = !box.checked;
  offerReasons();
}

// The next finding that still asks for something, from the top again after the last one.
function nextOpen() {
  const all = findings();
  const at = all.indexOf(chosen());
  const round = [...all.slice(at + 1), ...all.slice(0, at + 1)];
  choose(round.find((finding) => "open" in finding.dataset));
}

// All findings of the same setup and tool, as they stand together in the list; pressed again, none of them.
function markTogether() {
  const boxes = [...(chosen()?.closest(".findings")?.querySelectorAll("input[name=finding]") ?? [])];
  const isAll = boxes.every((box) => box.checked);
  boxes.forEach((box) => (box.checked = !isAll));
  offerReasons();
}

const reason = () => document.querySelector(".review-decide [name=reason]");

// Picks the decision and goes to its reason; where nothing is marked yet, the finding that is looked at is meant.
function decide(verdict) {
  const choice = document.querySelector(`.review-decide [name=verdict][value=${verdict}]`);
  if (!choice) return;
  if (!document.querySelector("input[name=finding]:checked")) mark();
  choice.checked = true;
  offerReasons();
  reason()?.focus();
}

function goTo(id) {
  const title = document.getElementById(id);
  if (!title) return;
  title.tabIndex = -1;
  title.focus({ preventScroll: true });
  title.scrollIntoView({ block: "start" });
}

const KEYS = {
  j: () => step(1),
  k: () => step(-1),
  n: nextOpen,
  x: mark,
  X: markTogether,
  a: () => decide("accept"),
  m: () => decide("mend"),
  s: () => decide("send-back"),
  r: () => reason()?.focus(),
  e: () => goTo("edits-title"),
  g: () => goTo("sign-off-title"),
};

// Typing must stay typing, and a key with Ctrl or the like belongs to the browser.
function isFree(event) {
  const isTyping = event.target.closest?.("input:not([type=checkbox], [type=radio]), textarea, select");
  return !isTyping && !event.ctrlKey && !event.metaKey && !event.altKey;
}

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && event.target === reason()) chosen() ? chosen().focus() : reason().blur();
  const act = review() && isFree(event) && KEYS[event.key];
  if (!act) return;
  event.preventDefault();
  act();
});

// A link to a line stays on this page: the text scrolls there, or the window around it is fetched.
document.addEventListener("click", (event) => {
  const link = event.target.closest?.("[data-review] a[data-line]");
  if (!link || event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  const finding = link.closest(".finding");
  if (finding) choose(finding);
});

// An address with ?line= opens there: the text lies in a box of its own, which the browser does not scroll by itself.
function openAtLine(root) {
  const now = root.querySelector?.(".program-line-now");
  if (now) tell(Number.parseInt(now.id.slice(1), 10));
}

htmx.onLoad((root) => setTimeout(() => openAtLine(root)));
htmx.onLoad(offerReasons);

// After a decision the findings are new elements: the one that was looked at is looked at again, and a refusal is shown.
let looked = "";
document.addEventListener("htmx:beforeSwap", () => (looked = chosen()?.id ?? ""));
htmx.onLoad((root) => {
  if (root.id !== "review" && root.id !== "findings") return;
  const again = looked ? document.getElementById(looked) : null;
  if (again) again.classList.add("finding-now");
  (root.querySelector(".review-decide .form-errors") ?? again)?.scrollIntoView({ block: "nearest" });
});

// Told again only where the line is there now: a line that does not exist must not be fetched for ever.
async function fetchWindow(line) {
  const url = `${review().dataset.lineUrl}?line=${line}`;
  await htmx.ajax("GET", url, { source: review(), target: "#program-window", swap: "outerHTML" });
  if (document.getElementById(`L${line}`)) tell(line);
}

document.addEventListener("shopflow:line", (event) => {
  const { line } = event.detail;
  if (review() && line > 0 && !document.getElementById(`L${line}`)) fetchWindow(line);
});

// The removal of material comes while somebody may be typing: the page is loaded anew only where nothing was typed.
function isTouched(field) {
  if (field.type === "hidden") return false;
  return field.type === "checkbox" || field.type === "radio" ? field.checked !== field.defaultChecked : field.value !== field.defaultValue;
}

htmx.onLoad((root) => {
  if (!root.matches?.("#removal[data-arrived]")) return;
  const fields = [...document.querySelectorAll("#review form input, #review form textarea")];
  if (fields.some(isTouched)) root.querySelector("[data-offer]").hidden = false;
  else window.location.reload();
});
