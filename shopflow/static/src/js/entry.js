// Measurements typed one after another: Enter goes down the column of one piece, then to the top of the next piece, as
// gauges that type do. What was typed is saved when the field is left (its form's own htmx trigger).
function grid(table) {
  const rows = [...table.tBodies[0].rows].map((row) => [...row.querySelectorAll(".entry")]).filter((row) => row.length > 0);
  const columns = Math.max(0, ...rows.map((row) => row.length));
  return Array.from({ length: columns }, (_, column) => rows.map((row) => row[column])).flat().filter(Boolean);
}

function next(field) {
  const table = field.closest("table");
  if (!table) return null;
  const order = grid(table);
  return order[order.indexOf(field) + 1] ?? null;
}

function onKey(event) {
  if (event.key !== "Enter" || !event.target.matches?.(".entry")) return;
  const after = next(event.target);
  if (!after) return;
  event.preventDefault();
  after.focus();
  after.select();
}

let isWatching = false;

export function start() {
  if (isWatching) return;
  isWatching = true;
  document.addEventListener("keydown", onKey);
}
