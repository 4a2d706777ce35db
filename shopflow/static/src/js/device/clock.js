// The server's time, as far as this device knows it: each answer says it in its Date header.
const KEPT = "shopflow-clock";

export function learn(response) {
  const said = Date.parse(response.headers.get("Date") ?? "");
  if (Number.isFinite(said)) localStorage.setItem(KEPT, String(said - Date.now()));
}

function offset() {
  const kept = Number(localStorage.getItem(KEPT) ?? 0);
  return Math.abs(kept) > 5000 ? kept : 0; // a slow answer is no wrong clock
}

export const minutesOff = () => Math.round(Math.abs(offset()) / 60000);
export const now = () => new Date(Date.now() + offset()).toISOString();
