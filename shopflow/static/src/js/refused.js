// What was typed into a form that was refused goes back into it; the list of it on the page is for when that cannot be.
function fill(field, values) {
  if (field instanceof RadioNodeList) return [...field].forEach((one) => fill(one, values));
  if (field.type === "checkbox" || field.type === "radio") field.checked = values.includes(field.value);
  else if (field.multiple) [...field.options].forEach((one) => (one.selected = values.includes(one.value)));
  else field.value = values[0];
}

export function start(list) {
  const typed = new Map();
  list.querySelectorAll("[data-name]").forEach(({ dataset }) => {
    typed.set(dataset.name, [...(typed.get(dataset.name) ?? []), dataset.value]);
  });
  // Several forms may go to one address, such as one that adds and those that drop what is there.
  const form = [...document.forms].find(
    (one) => new URL(one.action).pathname === list.dataset.typedFor && [...typed.keys()].some((name) => one.elements.namedItem(name)),
  );
  if (!form) return;
  const fields = [...typed].map(([name, values]) => [form.elements.namedItem(name), values]);
  fields.forEach(([field, values]) => field && fill(field, values));
  for (let drawer = form.closest("details"); drawer; drawer = drawer.parentElement.closest("details")) drawer.open = true;
  list.hidden = fields.every(([field]) => field);
}
