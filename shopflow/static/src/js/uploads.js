// A form with a file is sent with its progress shown. Without this script the browser sends it the plain way.
function show(box, share, words) {
  box.hidden = false;
  box.querySelector("progress").value = share;
  box.querySelector("[role=status]").textContent = words;
}

function progressOf(form, box) {
  const says = box.querySelector("[role=status]").dataset;
  return (event) => {
    if (!event.lengthComputable) return;
    const share = Math.round((100 * event.loaded) / event.total);
    show(box, share, share < 100 ? `${says.sending} ${share} %` : says.sent);
  };
}

// The answer is a page: where a redirect led, or the form with its errors. It is put in place here rather than fetched
// again, which would lose the messages that it shows.
function land(request, htmx) {
  const page = new DOMParser().parseFromString(request.responseText, "text/html");
  if (request.responseURL !== location.href) {
    history.pushState({ sent: true }, "", request.responseURL);
    window.addEventListener("popstate", () => location.reload(), { once: true });
  }
  document.title = page.title;
  for (const { name, value } of page.body.attributes) document.body.setAttribute(name, value);
  htmx.swap(document.body, page.body.innerHTML, { swapStyle: "innerHTML" });
  window.scrollTo(0, 0);
}

function send(form, submitter, htmx) {
  const box = form.querySelector("[data-progress]");
  const request = new XMLHttpRequest();
  request.upload.addEventListener("progress", progressOf(form, box));
  request.addEventListener("load", () => land(request, htmx));
  request.addEventListener("error", () => {
    box.hidden = true;
    document.dispatchEvent(new CustomEvent("htmx:sendError"));
  });
  const body = new FormData(form, submitter);
  request.open("POST", form.action || location.href);
  request.send(body);
  show(box, 0, box.querySelector("[role=status]").dataset.sending);
}

function hasFile(form) {
  return [...form.querySelectorAll("[data-upload] input[type=file]")].some((input) => input.files.length > 0);
}

function drop(event, upload) {
  event.preventDefault();
  upload.classList.remove("upload-over");
  const input = upload.querySelector("input[type=file]");
  input.files = event.dataTransfer.files;
  input.dispatchEvent(new Event("change", { bubbles: true }));
}

export function watchUploads(htmx) {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.hasAttribute("hx-post") || !hasFile(form)) return;
    event.preventDefault();
    send(form, event.submitter, htmx);
  });
  document.addEventListener("dragover", (event) => {
    const upload = event.target.closest?.("[data-upload]");
    if (!upload) return;
    event.preventDefault();
    upload.classList.add("upload-over");
  });
  document.addEventListener("dragleave", (event) => event.target.closest?.("[data-upload]")?.classList.remove("upload-over"));
  document.addEventListener("drop", (event) => {
    const upload = event.target.closest?.("[data-upload]");
    if (upload) drop(event, upload);
  });
}
