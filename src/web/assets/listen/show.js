// Small hands for the page. The sentences stand in the page; scripts only show, hide and fill them.

/** Shows the one element whose `data-<kind>` is `name`, and hides the others of that kind in its place. */
export function showOne(kind, name, place = document) {
  for (const element of place.querySelectorAll(`[data-${kind}]`)) {
    element.hidden = element.dataset[kind] !== name;
  }
}

/** Writes an element's sentence with its names in braces filled in. */
export function fill(element, values) {
  element.textContent = element.dataset.text.replace(/\{(\w+)\}/g, (_, name) => values[name] ?? "");
}

/** Off for everyone, yet still there for the keyboard and the screen reader. */
export function setOff(button, off) {
  button.setAttribute("aria-disabled", String(off));
}

export function isOff(button) {
  return button.getAttribute("aria-disabled") === "true";
}
