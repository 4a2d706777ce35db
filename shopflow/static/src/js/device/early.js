// A report may be pressed before its script is here: it is held for that moment, and then goes its way.
export function watchReports(load) {
  let isReady = false;
  document.addEventListener(
    "submit",
    (event) => {
      const form = event.target.closest?.("form[data-report]");
      if (!form || isReady) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      load().then(({ start }) => {
        start();
        isReady = true;
        form.requestSubmit(event.submitter);
      });
    },
    { capture: true },
  );
}
