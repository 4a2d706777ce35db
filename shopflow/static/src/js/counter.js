// Plus and minus beside a count. The buttons are made here, so that without a script only the field is there.
function step(input, by) {
  const least = input.min === "" ? 0 : Number(input.min);
  const most = input.max === "" ? Infinity : Number(input.max);
  input.value = Math.min(most, Math.max(least, (Number.parseInt(input.value, 10) || 0) + by));
  input.dispatchEvent(new Event("input", { bubbles: true }));
}

function button(word, label, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = word;
  made.setAttribute("aria-label", label);
  made.addEventListener("click", act);
  return made;
}

export function start(counter) {
  const input = counter.querySelector("input");
  if (!input || counter.querySelector("button")) return;
  counter.prepend(button("\u2212", counter.dataset.less, () => step(input, -1)));
  counter.append(button("+", counter.dataset.more, () => step(input, 1)));
}
