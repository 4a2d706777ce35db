// Scanning a traveler: a scanner that types wherever the page is, and the camera where the browser lets us have it.
import * as camera from "./camera.js";

const BETWEEN_KEYS = 500; // a scanner is fast, a busy tablet is slow; a longer pause begins anew
const ADDRESS = /^https?:\/\/\S+$/i;

function open(form, code) {
  form.querySelector("[name=code]").value = code;
  form.querySelector(".scan-says").textContent = form.dataset.read;
  form.requestSubmit();
}

// Keys that no field is waiting for, fast one after the other and ended by Enter: a scanner read something.
function listen(form) {
  let typed = "";
  let last = 0;
  document.addEventListener("keydown", (event) => {
    if (event.target.closest?.("input, textarea, select") || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.timeStamp - last > BETWEEN_KEYS) typed = "";
    last = event.timeStamp;
    if (event.key === "Enter" && ADDRESS.test(typed)) {
      event.preventDefault();
      open(form, typed);
      typed = "";
    } else if (event.key.length === 1) typed += event.key;
  });
}

function watchCamera(form) {
  const [begin, stop] = ["[data-camera]", "[data-stop]"].map((name) => form.querySelector(name));
  const says = form.querySelector(".scan-says");
  const video = form.querySelector("video");
  const show = (isOn) => {
    video.hidden = stop.hidden = !isOn;
    begin.hidden = isOn;
  };
  begin.hidden = false;
  stop.addEventListener("click", () => camera.stop(video));
  begin.addEventListener("click", async () => {
    if (!navigator.mediaDevices) return void (says.textContent = form.dataset.insecure);
    show(true);
    says.textContent = form.dataset.looking;
    try {
      const code = await camera.read(video);
      if (code) open(form, code);
      else says.textContent = "";
    } catch (error) {
      says.textContent = error.name === "NotAllowedError" ? form.dataset.denied : form.dataset.none;
    } finally {
      show(false);
    }
  });
}

export function start(form) {
  if (form.dataset.started) return;
  form.dataset.started = "yes";
  listen(form);
  watchCamera(form);
}
