// A form that is on its way is not sent a second time by an impatient thumb.
export function watchForms() {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    // Forms sent by htmx or with progress are in their scripts' hands: those cancelled the browser's own sending.
    if (event.defaultPrevented || form.method !== "post") return;
    if (form.dataset.sent) event.preventDefault();
    form.dataset.sent = "yes";
  });
  // Back to a page that the browser kept: its forms may be sent again.
  window.addEventListener("pageshow", () => {
    document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent);
  });
}
