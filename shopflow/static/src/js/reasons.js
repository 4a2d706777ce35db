// Of the reasons to pick from, those that fit every marked finding, or at least one of them, and the decision taken.

const list = () => document.querySelector("[data-reasons]");
const MOST = 6;

function marked() {
  const boxes = [...document.querySelectorAll("input[name=finding]:checked")];
  const chosen = document.querySelector(".finding-now input[name=finding]");
  const meant = boxes.length || !chosen ? boxes : [chosen];
  return [...new Set(meant.map((box) => box.dataset.code))];
}

function fitting(all, codes) {
  const fits = (one, how) => how.call(codes, (code) => one.dataset.codes.split(" ").includes(code));
  const every = all.filter((one) => fits(one, codes.every));
  return every.length ? every : all.filter((one) => fits(one, codes.some));
}

export function offerReasons() {
  if (!list()) return;
  const verdict = document.querySelector(".review-decide [name=verdict]:checked")?.value ?? "accept";
  const all = [...list().querySelectorAll("[data-codes]")];
  const shown = fitting(all.filter((one) => one.dataset.verdict === verdict), marked()).slice(0, MOST);
  for (const one of all) one.hidden = !shown.includes(one);
  list().hidden = !shown.length;
  const texts = shown.map((one) => one.querySelector("button").dataset.reason);
  for (const option of document.querySelectorAll("#reasons option")) option.disabled = !texts.includes(option.value);
}

document.addEventListener("change", (event) => {
  if (event.target.matches?.("input[name=finding], .review-decide [name=verdict]")) offerReasons();
});

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-reason]");
  if (!button) return;
  const field = document.querySelector(".review-decide [name=reason]");
  field.value = button.dataset.reason;
  field.focus();
});
