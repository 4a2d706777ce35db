// A strip wider than the screen opens where the work is, not at its beginning.
export function start(run) {
  const now = run.querySelector(".strip-op-now, .strip-op-held");
  if (!now || run.dataset.started || run.scrollWidth <= run.clientWidth) return;
  run.dataset.started = "yes";
  run.scrollLeft = now.offsetLeft + now.offsetWidth / 2 - run.clientWidth / 2;
}
