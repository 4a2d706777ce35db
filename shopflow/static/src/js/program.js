// Program text, findings and picture follow one line. A link with data-line, a click on a line number and a picked
// motion all send "shopflow:line" with the number; the text marks that line and brings it into view.
function mark(program, number) {
  program.querySelector(".program-line-now")?.classList.remove("program-line-now");
  const line = program.querySelector(`#L${number}`);
  if (!line) return;
  line.classList.add("program-line-now");
  line.scrollIntoView({ block: "nearest" });
}

export function tell(number) {
  document.dispatchEvent(new CustomEvent("shopflow:line", { detail: { line: Number(number) } }));
}

export function start(program) {
  if (program.dataset.started) return;
  program.dataset.started = "yes";
  document.addEventListener("shopflow:line", (event) => mark(program, event.detail.line));
  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("[data-line]");
    if (link) tell(Number.parseInt(link.dataset.line, 10));
  });
  // This part is fetched after the page: a finding chosen by key in the meantime is caught up with.
  const chosen = document.querySelector(".finding-now [data-line]");
  if (chosen) mark(program, Number.parseInt(chosen.dataset.line, 10));
}
