// Says in words when the shop's server cannot be reached, and takes it back when it can.
const box = () => document.getElementById("connection");

export function lost() {
  const element = box();
  if (!element || !element.hidden) return;
  element.textContent = element.dataset.lost;
  element.hidden = false;
}

export function found() {
  const element = box();
  if (!element || element.hidden) return;
  element.hidden = true;
  element.textContent = "";
}

export function watchConnection() {
  window.addEventListener("offline", lost);
  document.addEventListener("htmx:sendError", lost);
  document.addEventListener("htmx:afterOnLoad", found);
}
