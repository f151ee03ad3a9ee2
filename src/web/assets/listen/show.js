// Small hands for the page. The sentences stand in the page; scripts only show, hide and fill them.

/** Shows the one element whose `data-<kind>` is `name`, and hides its siblings of that kind. */
export function showOne(kind, name) {
  for (const element of document.querySelectorAll(`[data-${kind}]`)) {
    element.hidden = element.dataset[kind] !== name;
  }
}

/** Says in a place why a sound was not heard; with no name, nothing. */
export function tellTrouble(place, name) {
  for (const sentence of place.querySelectorAll("[data-trouble]")) {
    sentence.hidden = sentence.dataset.trouble !== name;
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
