// Brings reports to the server, one after the other, each until it is counted or refused.
import * as clock from "./clock.js";
import * as store from "./store.js";

const PATIENCE = 10000;

function token() {
  return document.cookie.match(/(?:^|; )csrftoken=([^;]*)/)?.[1] ?? "";
}

function bodyOf(report, atOnce) {
  const body = new URLSearchParams(report.fields);
  body.set("key", report.key);
  body.set("made_at", report.madeAt);
  body.set("made_by", report.person);
  if (atOnce) body.set("at_once", "yes");
  return body;
}

// How one try ended: {kind: "done" | "refused" | "away" | "logged-out" | "trouble", sentence}.
async function deliver(report, { atOnce = false } = {}) {
  if (!token()) return { kind: "logged-out" }; // the browser forgot its cookies, the log-in among them
  let response;
  try {
    response = await fetch(report.url, {
      method: "POST",
      body: bodyOf(report, atOnce),
      headers: { Accept: "application/json", "X-CSRFToken": token() },
      redirect: "manual",
      signal: AbortSignal.timeout(PATIENCE),
    });
  } catch {
    return { kind: "away" }; // it may have arrived all the same: the key tells
  }
  if (response.type === "opaqueredirect") return { kind: "logged-out" };
  clock.learn(response);
  return read(response);
}

async function read(response) {
  const isJson = response.headers.get("Content-Type")?.startsWith("application/json");
  const said = isJson ? await response.json().catch(() => ({})) : {};
  if (response.ok && said.done) return { kind: "done", sentence: said.done };
  if (said.refused) return { kind: "refused", sentence: said.refused };
  if (response.status === 403) return { kind: "refused", why: "notTaken" };
  if (response.status === 404) return { kind: "refused", why: "gone" };
  return { kind: "trouble" };
}

// Two pages of one device take turns: the order of the reports holds for both.
export function inTurn(act) {
  return navigator.locks ? navigator.locks.request("shopflow-reports", act) : act();
}

export function atOnce(report) {
  return inTurn(() => deliver(report, { atOnce: true }));
}

// Sends what waits of one person; ends at the first that does not get through. What stands behind a refused report of
// the same lot waits for the person's decision: it was made in the belief that the one before counted.
export function sendWaiting(person, sentenceFor) {
  return inTurn(async () => {
    const stuck = new Set();
    let delivered = 0;
    for (const report of (await store.all()).filter((one) => one.person === person)) {
      if (report.state === "refused") stuck.add(report.lot);
      if (stuck.has(report.lot)) continue;
      const end = await deliver(report);
      if (end.kind === "done") {
        await store.remove(report.id);
        delivered += 1;
      } else if (end.kind === "refused") {
        await store.put({ ...report, state: "refused", sentence: end.sentence ?? sentenceFor(end.why) });
        stuck.add(report.lot);
      } else return { kind: end.kind, delivered };
    }
    return { kind: "done", delivered };
  });
}
