// Says in words when the shop's server cannot be reached, or refused what a part of the page asked of it.
const box = () => document.getElementById("connection");

function say(text) {
  const element = box();
  if (!element || !text) return;
  element.textContent = text;
  element.hidden = false;
}

export function lost() {
  if (box()?.hidden) say(box().dataset.lost);
}

export function found() {
  const element = box();
  if (!element || element.hidden || element.textContent !== element.dataset.lost) return;
  element.hidden = true;
}

function refused(event) {
  say(`${box()?.dataset.refused} (${event.detail.xhr.status})`);
}

export function watchConnection() {
  window.addEventListener("offline", lost);
  document.addEventListener("htmx:sendError", lost);
  document.addEventListener("htmx:responseError", refused);
  document.addEventListener("htmx:afterRequest", (event) => {
    if (event.detail.successful && box()) box().hidden = true;
  });
}
