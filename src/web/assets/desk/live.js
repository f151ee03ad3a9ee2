// Keeps the parts of a round's page as the server tells them. Without this script a reload shows the same.

const live = document.getElementById("live");
const note = document.getElementById("live-note");
const events = new EventSource(live.dataset.live);

// Only what changed is set anew, so that nobody loses her place in the page.
events.addEventListener("message", (event) => {
  const told = new DOMParser().parseFromString(event.data, "text/html");
  for (const part of told.querySelectorAll("[data-part]")) {
    const shown = live.querySelector(`[data-part="${part.dataset.part}"]`);
    if (shown && shown.innerHTML !== part.innerHTML) {
      shown.innerHTML = part.innerHTML;
    }
  }
  say("This page follows the round by itself.");
});

events.addEventListener("over", (event) => {
  events.close();
  say(event.data);
});

events.addEventListener("error", () => {
  say("The connection broke off; what is shown may be old. Reload the page if it stays so.");
});

function say(text) {
  if (note.textContent !== text) {
    note.textContent = text;
  }
}
