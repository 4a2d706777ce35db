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

function land(request) {
  // The server answered with a redirect (saved) or with the form and its errors: either way that is the page now.
  if (request.responseURL && request.responseURL !== location.href) {
    location.assign(request.responseURL);
    return;
  }
  document.open();
  document.write(request.responseText);
  document.close();
}

function send(form, submitter) {
  const box = form.querySelector("[data-progress]");
  const request = new XMLHttpRequest();
  request.upload.addEventListener("progress", progressOf(form, box));
  request.addEventListener("load", () => land(request));
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

export function watchUploads() {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.hasAttribute("hx-post") || !hasFile(form)) return;
    event.preventDefault();
    send(form, event.submitter);
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
