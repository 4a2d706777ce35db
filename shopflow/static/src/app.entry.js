// Loaded by every page. What only some pages need is a part of its own, fetched when the page asks for it.
import htmx from "htmx.org";
import { watchConnection } from "./js/connection.js";
import { watchReports } from "./js/device/early.js";
import { watchLogOut } from "./js/device/worker.js";
import { watchForms } from "./js/forms.js";
import { watchUploads } from "./js/uploads.js";

const PARTS = {
  "[data-changes-url]": () => import("./js/live.js"),
  "[data-viewer]": () => import("./js/viewer.js"),
  "[data-chart]": () => import("./js/chart.js"),
  "[data-counter]": () => import("./js/counter.js"),
  ".entry": () => import("./js/entry.js"),
  ".strip-run": () => import("./js/strips.js"),
  "[data-program]": () => import("./js/program.js"),
  "[data-kept-list]": () => import("./js/device/kept.js"),
  "[data-op]": () => import("./js/device/report.js"),
  "[data-typed-for]": () => import("./js/refused.js"),
  "[data-scan]": () => import("./js/device/scan.js"),
  "[data-worker-url]": () => import("./js/device/worker.js"),
};

function startParts(root) {
  for (const [selector, load] of Object.entries(PARTS)) {
    const found = [...(root.matches?.(selector) ? [root] : []), ...root.querySelectorAll(selector)];
    if (found.length) load().then(({ start }) => found.forEach((element) => start(element, htmx)));
  }
}

// A style that a script set is an attribute of its element; copied to what replaces it, the policy would refuse it.
htmx.config.attributesToSettle = ["class", "width", "height"];
watchConnection();
watchUploads(htmx);
watchForms();
watchLogOut();
watchReports(PARTS["[data-op]"]);
htmx.onLoad(startParts);
document.addEventListener("shopflow:redrawn", (event) => startParts(event.target));
