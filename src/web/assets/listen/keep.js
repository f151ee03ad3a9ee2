// What a listener chose, kept in the browser. One that keeps nothing holds it for the page alone.

export function keep(name, value) {
  try {
    localStorage.setItem(name, value);
  } catch {
    // It holds for this page.
  }
}

/** What was kept under a name, or null. */
export function kept(name) {
  try {
    return localStorage.getItem(name);
  } catch {
    return null;
  }
}
